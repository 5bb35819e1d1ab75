//! In: a [`Bed`]. Out: warnings, each a sentence without its full stop.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::bed::result::Bed;
use crate::segment::pour::Segments;

/// Warnings on a bed.
pub(super) fn warnings(
    bed: &Bed,
    c: Option<&Collected>,
    segments: &Segments,
    options: &BedOptions,
) -> Vec<String> {
    let mut warnings = Vec::new();
    let end = c.and_then(|c| c.calm.last()).map_or(0.0, |s| s.slope);
    if end >= options.drip_g_per_s {
        let end_s = c.and_then(|c| c.time_s.last()).copied().unwrap_or_default() - segments.time_zero_s();
        let to_come = match (&bed.law, &bed.beverage_g) {
            (Ok(law), Ok(now)) if law.beverage_g.value > now.value => {
                let more_g = law.beverage_g.value - now.value;
                format!(", {:.1} ± {:.1} g more is predicted", more_g, law.beverage_g.sd.hypot(now.sd))
            }
            _ => String::new(),
        };
        warnings.push(format!(
            "still dripping at {end:.1} g/s when the log ends ({end_s:.1} s): beverage, retention and yield are \
             not final{to_come}; log until the drips stop"
        ));
    } else if let (Some(&end_s), Some(pour)) = (c.and_then(|c| c.time_s.last()), segments.pours.last())
        && end_s < pour.end_s.value + options.transit_s
    {
        // A scale with a lag does not yet show a flow that has just begun.
        warnings.push(format!(
            "the log ends {:.1} s after the last pour, while water still passes the bed: beverage, retention and \
             yield are not final; log until the drips stop",
            (end_s - pour.end_s.value).max(0.0)
        ));
    }
    if let Ok(law) = &bed.law
        && law.residual_over_noise > 2.0
    {
        warnings.push(format!(
            "the drain law fits the drawdown from {:.1} to {:.1} s poorly: residuals are {:.1} times the scale's \
             noise. Exponent and conductance are unreliable; check whether the server was touched",
            law.start_s - segments.time_zero_s(),
            law.end_s - segments.time_zero_s(),
            law.residual_over_noise
        ));
    }
    let closed = |(k, ratio): (usize, &crate::bed::result::PourDrain)| {
        let ratio = ratio.conductance_ratio.as_ref().ok()?;
        (ratio.value + 3.0 * ratio.sd < 1.0).then(|| (k + 1).to_string())
    };
    let slower: Vec<String> = bed.pours.iter().enumerate().filter_map(closed).collect();
    if !slower.is_empty() {
        let cooled = if options.pour_c.is_empty() {
            ". The ratio assumes one temperature; state pour_c to correct for cooling"
        } else {
            ""
        };
        warnings.push(format!(
            "conductance fell after pour {}: this is no proof of clogging, since grounds swell{cooled}",
            slower.join(", ")
        ));
    }
    if let (Ok(loss), Ok(most)) = (&bed.loss_g, &bed.most_vapour_g)
        && loss.value - 2.0 * loss.sd > most.value
    {
        warnings.push(format!(
            "{:.1} g went missing, but evaporation explains at most {:.1} g: masses may be wrong by the difference. \
             Check for a spill, a moved vessel or a drifting zero",
            loss.value, most.value
        ));
    }
    warnings
}

//! In: a [`Bed`]. Out: what to know before its numbers are trusted, in sentences.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::bed::result::Bed;
use crate::segment::pour::Segments;

/// Sentences on a bed.
pub(super) fn warnings(
    bed: &Bed,
    c: Option<&Collected>,
    segments: &Segments,
    options: &BedOptions,
) -> Vec<String> {
    let mut warnings = Vec::new();
    let end = c.and_then(|c| c.calm.last()).map_or(0.0, |s| s.slope);
    if end >= options.drip_g_per_s {
        let to_come = match (&bed.law, &bed.beverage_g) {
            (Ok(law), Ok(now)) if law.beverage_g.value > now.value => {
                let more = law.beverage_g.value - now.value;
                format!(
                    "; by its drain law {:.1} ± {:.1} g were still to come",
                    more,
                    law.beverage_g.sd.hypot(now.sd)
                )
            }
            _ => String::new(),
        };
        warnings.push(format!(
            "still dripping: {end:.1} g/s of beverage where the log ends, so beverage, retention and yield are those of that instant{to_come}"
        ));
    } else if let (Some(&end_s), Some(pour)) = (c.and_then(|c| c.time_s.last()), segments.pours.last())
        && end_s < pour.end_s.value + options.transit_s
    {
        // A scale with a lag shows nothing yet of what has just begun to run.
        warnings.push(format!(
            "the log ends {:.1} s after the last pour, with water on its way through the bed: beverage, retention and yield are those of that instant, and what has just begun to run may not show yet",
            (end_s - pour.end_s.value).max(0.0)
        ));
    }
    if let Ok(law) = &bed.law
        && law.residual_over_noise > 2.0
    {
        warnings.push(format!(
            "the drain law leaves {:.1} times the scale's noise: this bed follows another one, or the server was touched",
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
            "; nor is the temperature in the bed known (pour_c), and water of 60 C runs 1.5 times slower than at 93 C"
        } else {
            ""
        };
        warnings.push(format!(
            "the bed let less through after pour {} than before: no proof of clogging, since grounds swell, most of it within half a minute of getting wet{cooled}",
            slower.join(", ")
        ));
    }
    if let (Ok(loss), Ok(most)) = (&bed.loss_g, &bed.most_vapour_g)
        && loss.value - 2.0 * loss.sd > most.value
    {
        warnings.push(format!(
            "{:.1} g went missing, and evaporation can have taken {:.1} g at most: a spill, a moved vessel, or a zero that drifts",
            loss.value, most.value
        ));
    }
    warnings
}

//! In: the stored JSON of a [`Brew`]. Out: the brew, or its inconsistency: every reader of a brew relies on this check.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::segment::observations::used;

impl Brew {
    /// From the JSON of a brew, of this version or an earlier one.
    ///
    /// ```
    /// use pourline::{Brew, Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let text = serde_json::to_string(&brew).unwrap();
    /// assert_eq!(Brew::from_json(&text)?, brew);
    /// assert_eq!(Brew::from_json("{}").unwrap_err().kind(), "format");
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `format` for a text that is not such JSON; `unequal_length` for a series or rows of another length than the
    /// samples or the pours; `time` for decreasing stamps.
    pub fn from_json(text: &str) -> Result<Self> {
        let brew: Self = serde_json::from_str(text).map_err(|e| no_brew(&e.to_string()))?;
        brew.check()?;
        Ok(brew)
    }

    pub(super) fn check(&self) -> Result<()> {
        let (samples, pours) = (self.trace.time_s.len(), self.segments.pours.len());
        if let Some(i) = self.trace.time_s.windows(2).position(|two| two[1] < two[0]) {
            let value_s = self.trace.time_s[i + 1];
            return Err(Error::Time { row: i + 2, value_s, rule: "the stamps of a brew never run back" });
        }
        let mut lengths = vec![("trace.log_index", self.trace.log_index.len(), samples)];
        for channel in [&self.trace.water, &self.trace.beverage].into_iter().flatten() {
            lengths.push(("trace.mass_g", channel.mass_g.len(), samples));
            lengths.push(("trace.flag", channel.flag.len(), samples));
        }
        if let Some(flow) = &self.flow {
            let all = [&flow.flow_g_per_s, &flow.flow_sd_g_per_s, &flow.water_g, &flow.water_sd_g];
            lengths.push(("flow.time_s", flow.time_s.len(), samples));
            lengths.extend(all.map(|one| ("flow", one.len(), samples)));
        }
        if let Ok(curve) = &self.bed.curve {
            let all = [
                &curve.time_s,
                &curve.held_g,
                &curve.held_sd_g,
                &curve.beverage_g,
                &curve.beverage_sd_g,
                &curve.beverage_flow_g_per_s,
                &curve.beverage_flow_sd_g_per_s,
            ];
            lengths.extend(all.map(|one| ("bed.curve", one.len(), samples)));
        }
        lengths.push(("metrics.pours", self.metrics.pours.len(), pours));
        lengths.push(("bed.pours", self.bed.pours.len(), pours));
        let agitated = self.agitation.as_ref().map_or(0, |agitation| agitation.pours.len());
        lengths.push(("agitation.pours", agitated, pours));
        if let Some(labelled) = &self.labelled {
            lengths.push(("labelled.pours", labelled.pours.len(), pours));
            lengths.push(("labelled.labels.pours", labelled.labels.pours.len(), pours));
        }
        let wrong = lengths.into_iter().find(|(_, found, expected)| found != expected);
        if let Some((column, found, expected)) = wrong {
            return Err(Error::UnequalLength { column: column.into(), found, expected });
        }
        if let Some(fit) = &self.segments.fit
            && !used(&self.trace).is_some_and(|x| fit.fits(&x))
        {
            return Err(no_brew("its fit is not one of its samples"));
        }
        if !self.segments.covariance.is_whole() {
            return Err(no_brew("its covariance lacks a part"));
        }
        Ok(())
    }
}

fn no_brew(why: &str) -> Error {
    Error::Format { row: 0, message: format!("this is no brew as written by to_json: {why}") }
}

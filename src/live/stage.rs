//! Samples one by one, and the brew at the end.

use crate::brew::analyze::analyze;
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::live::now::LiveState;
use crate::live::watch::{Known, Watch};
use crate::log::check::within_limits;
use crate::log::meta::Meta;
use crate::log::missing::Missing;
use crate::log::record::Log;
use crate::segment::propose::USUAL_LAG_S;

/// A brew while it is poured.
///
/// ```
/// use pourline::{Live, LiveFlag, LivePhase, Meta, LiveState, Options, Recipe, analyze, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let mut live = Live::new(log.meta.clone(), Options::default())?;
/// let mut begun = 0;
/// for ((&t, &w), &b) in log.time_s().iter().zip(log.water_g().unwrap()).zip(log.beverage_g().unwrap()) {
///     let now: LiveState = live.push(t, w, Some(b))?;
///     begun += usize::from(now.began.is_some());
///     if let LivePhase::Pouring { pour, mass_g, .. } = now.state {
///         assert!(pour == begun && mass_g >= 0.0);
///     }
///     assert_eq!(now.flag, LiveFlag::Used);
/// }
/// assert_eq!(begun, truth.pours.len());
/// assert_eq!(live.finish()?, analyze(&log, &Options::default())?);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Live {
    meta: Meta,
    options: Options,
    watch: Watch,
    samples: usize,
    /// Stamp, water and beverage of each sample, NaN for none; None if nothing is kept.
    kept: Option<Vec<[f64; 3]>>,
    /// Whether any sample came with a beverage, be it a missing reading.
    with_beverage: bool,
}

impl Live {
    /// Begins a brew. Its samples are kept, 24 bytes each, so that [`Live::finish`] can analyse the whole.
    ///
    /// # Errors
    /// `out_of_range` for an option outside its range.
    pub fn new(meta: Meta, options: Options) -> Result<Self> {
        options.condition.check()?;
        options.segment.check()?;
        let condition = &options.condition;
        let expected = Estimate::new(USUAL_LAG_S, 0.6 * USUAL_LAG_S);
        let known = Known {
            lag_s: condition.scale_lag_s.map_or(expected, |lag| Estimate::new(lag, condition.scale_lag_sd_s)),
            noise_sd_g: condition.noise_sd_g,
            max_flow_g_per_s: condition.max_flow_g_per_s,
            gap_s: condition.gap_s,
            segment: options.segment.clone(),
        };
        let watch = Watch::new(known);
        Ok(Self { meta, options, watch, samples: 0, kept: Some(Vec::new()), with_beverage: false })
    }

    /// Begins a brew of which nothing is kept: its memory stays the same however long it lasts, and [`Live::finish`] is an error.
    ///
    /// ```
    /// use pourline::{Live, Meta, Options};
    /// let mut live = Live::without_log(Meta::default(), Options::default())?;
    /// live.push(0.0, 0.0, None)?;
    /// assert_eq!(live.finish().unwrap_err().kind(), "argument");
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `out_of_range` for an option outside its range.
    pub fn without_log(meta: Meta, options: Options) -> Result<Self> {
        Ok(Self { kept: None, ..Self::new(meta, options)? })
    }

    /// Takes in a sample: its stamp in s, the reading of the scale under the brewer in g (NaN for none), and that of the scale under the
    /// server, if there is one. The results at once are of the water; the beverage is kept for the end.
    ///
    /// # Errors
    /// What a log refuses, with the number of the sample: `not_finite` for a stamp that is NaN or an infinity, `out_of_range` for a stamp beyond
    /// 1e11 s or a mass beyond 1e7 g. Such a sample is not taken, and the next may follow.
    pub fn push(&mut self, time_s: f64, water_g: f64, beverage_g: Option<f64>) -> Result<LiveState> {
        within_limits(self.samples + 1, time_s, [Some(water_g), beverage_g])?;
        self.samples += 1;
        self.with_beverage |= beverage_g.is_some();
        if let Some(kept) = &mut self.kept {
            kept.push([time_s, water_g, beverage_g.unwrap_or(f64::NAN)]);
        }
        Ok(self.watch.see(time_s, water_g))
    }

    /// Takes in samples, in order; returns what is known at the last, or nothing for none.
    ///
    /// # Errors
    /// `unequal_length` if the slices differ in length, before any sample is taken; else as [`Live::push`], the samples before taken.
    pub fn extend(
        &mut self,
        time_s: &[f64],
        water_g: &[f64],
        beverage_g: Option<&[f64]>,
    ) -> Result<Option<LiveState>> {
        let expected = time_s.len();
        for (column, found) in
            [("water_g", Some(water_g.len())), ("beverage_g", beverage_g.map(<[f64]>::len))]
        {
            if let Some(found) = found.filter(|found| *found != expected) {
                return Err(Error::UnequalLength { column: column.into(), found, expected });
            }
        }
        let mut now = None;
        for (i, (&t, &w)) in time_s.iter().zip(water_g).enumerate() {
            now = Some(self.push(t, w, beverage_g.map(|b| b[i]))?);
        }
        Ok(now)
    }

    /// Samples taken.
    #[must_use]
    pub fn len(&self) -> usize {
        self.samples
    }

    /// Whether no sample was taken yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.samples == 0
    }

    /// The samples so far as a log, missing readings let through. A weight that was never read is left out.
    ///
    /// # Errors
    /// `argument` if nothing was kept; else what [`Log::with_missing`] refuses.
    pub fn log(&self) -> Result<Log> {
        let kept = self.kept.as_ref().ok_or_else(|| Error::Argument {
            name: "keep_log".into(),
            message: "the log was not kept: no samples were kept, so there is nothing to analyse".into(),
        })?;
        let column = |k: usize| kept.iter().map(|row| row[k]).collect::<Vec<f64>>();
        let any_water = kept.iter().any(|row| !row[1].is_nan()) || !self.with_beverage;
        let water_g = any_water.then(|| column(1));
        let beverage_g = self.with_beverage.then(|| column(2));
        Log::with_missing(column(0), water_g, beverage_g, self.meta.clone(), Missing::Flag)
    }

    /// The brew so far, analysed whole: the same to the last bit as [`analyze`] makes of the log, however its samples came. More samples may
    /// follow.
    ///
    /// # Errors
    /// `argument` if nothing was kept; else as [`Log::with_missing`] and [`analyze`].
    pub fn finish(&self) -> Result<Brew> {
        analyze(&self.log()?, &self.options)
    }
}

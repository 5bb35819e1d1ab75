//! Samples one by one, and the brew at the end.

use crate::brew::analyze::analyze;
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::live::now::LiveState;
use crate::live::watch::{Known, Watch};
use crate::log::check::within_limits;
use crate::log::meta::Meta;
use crate::log::missing::Missing;
use crate::log::record::Log;
use crate::model::response::ScaleResponse;

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
    /// Stamp, water and beverage of each sample, NaN for none; absent without a log.
    rows: Option<Vec<[f64; 3]>>,
    /// Whether any sample had a beverage channel, even with a missing reading.
    with_beverage: bool,
}

impl Live {
    /// Begins a brew. Its samples are stored, 24 bytes each, so that [`Live::finish`] can analyse the whole log.
    ///
    /// # Errors
    /// `out_of_range` for an option outside its range.
    pub fn new(meta: Meta, options: Options) -> Result<Self> {
        options.condition.check()?;
        options.segment.check()?;
        let condition = &options.condition;
        let known = Known {
            lag_s: condition.response().unwrap_or_else(ScaleResponse::expected).delay_s,
            noise_sd_g: condition.noise_sd_g,
            max_flow_g_per_s: condition.max_flow_g_per_s,
            gap_s: condition.gap_s,
            segment: options.segment.clone(),
        };
        let watch = Watch::new(known);
        Ok(Self { meta, options, watch, samples: 0, rows: Some(Vec::new()), with_beverage: false })
    }

    /// Begins a brew without storing its samples. The memory does not grow with the length of the brew, and
    /// [`Live::finish`] is an error.
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
        Ok(Self { rows: None, ..Self::new(meta, options)? })
    }

    /// Takes in a sample: its stamp in s, the reading of the scale under the brewer in g (NaN for none), and that of
    /// the scale under the server, if there is one. The returned state concerns the water; the beverage is used by
    /// [`Live::finish`].
    ///
    /// # Errors
    /// As for a log, with the number of the sample: `not_finite` for a stamp that is NaN or an infinity,
    /// `out_of_range` for a stamp beyond 1e11 s or a mass beyond 1e7 g. Such a sample is not taken in, and the next
    /// may follow.
    pub fn push(&mut self, time_s: f64, water_g: f64, beverage_g: Option<f64>) -> Result<LiveState> {
        within_limits(self.samples + 1, time_s, [Some(water_g), beverage_g])?;
        self.samples += 1;
        self.with_beverage |= beverage_g.is_some();
        if let Some(rows) = &mut self.rows {
            rows.push([time_s, water_g, beverage_g.unwrap_or(f64::NAN)]);
        }
        Ok(self.watch.update(time_s, water_g))
    }

    /// Takes in samples, in order; returns the state at the last one, or nothing without samples.
    ///
    /// # Errors
    /// `unequal_length` if the slices differ in length, before any sample is taken in. Otherwise as [`Live::push`];
    /// the samples before the wrong one are taken in.
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

    /// Number of samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.samples
    }

    /// Whether there is no sample yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.samples == 0
    }

    /// The samples so far as a log; missing readings are allowed. A weight that was never read is absent.
    ///
    /// # Errors
    /// `argument` if no samples are stored; otherwise as [`Log::with_missing`].
    pub fn log(&self) -> Result<Log> {
        let rows = self.rows.as_ref().ok_or_else(|| Error::Argument {
            name: "keep_log".into(),
            message: "the samples were not stored, so there is no log to analyse".into(),
        })?;
        let column = |k: usize| rows.iter().map(|row| row[k]).collect::<Vec<f64>>();
        let any_water = rows.iter().any(|row| !row[1].is_nan()) || !self.with_beverage;
        let water_g = any_water.then(|| column(1));
        let beverage_g = self.with_beverage.then(|| column(2));
        Log::with_missing(column(0), water_g, beverage_g, self.meta.clone(), Missing::Flag)
    }

    /// The analysis of the brew so far. It is the same to the last bit as that of [`analyze`] for the whole log. More
    /// samples may follow.
    ///
    /// # Errors
    /// `argument` if no samples are stored; otherwise as [`Log::with_missing`] and [`analyze`].
    pub fn finish(&self) -> Result<Brew> {
        analyze(&self.log()?, &self.options)
    }
}

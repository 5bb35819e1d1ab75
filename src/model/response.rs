//! How a scale shows a load: lags, then a moving average, seen by their response to a step.
//!
//! A lag, two lags and a response that overshoots follow `D² c/2 y'' + D y' + y = load`: `D` is the sum of the lags, and
//! the bend `c` is 0 for one lag, .5 for two equal ones and above for a response that overshoots. An average over `w`
//! delays by `w/2` more. The response to `t^n/n!` is in closed form.

use crate::estimate::{Estimate, Undefined};
use crate::rows::{rows, words};
use realfft::num_complex::Complex64;
use serde::{Deserialize, Serialize};

words! {
/// How a scale is built, by its response.
pub enum ResponseFamily {
    /// It shows the load at once.
    None = "none",
    /// A first-order lag.
    Lag = "lag",
    /// Two lags, one after the other.
    TwoLags = "two_lags",
    /// It swings beyond the load before it rests.
    Overshoot = "overshoot",
    /// A moving average.
    Average = "average",
    /// A moving average behind a lag.
    LagAndAverage = "lag_and_average",
}
}

words! {
/// Where the response is from.
pub enum ResponseSource {
    /// Given as an option.
    Given = "given",
    /// From masses put on the scale.
    Calibrated = "calibrated",
    /// From the edges of the pours of this log.
    Estimated = "estimated",
    /// Usual for a kitchen scale: the log has no edge to estimate it from.
    Expected = "expected",
}
}

rows! { $
/// How a scale shows a load.
///
/// A response that is given to an analysis is that of its parameters; the sd of `delay_s` is that of the whole.
///
/// ```
/// use pourline::{Options, Recipe, ResponseFamily, ResponseSource, ScaleResponse, analyze, simulate};
/// let log = simulate(&Recipe::default(), 7)?.0;
/// let found: ScaleResponse = analyze(&log, &Options::default())?.segments.response;
/// assert_eq!(found.source, ResponseSource::Estimated);
/// // A scale that shows the mean of the last .6 s.
/// let mut options = Options::default();
/// options.condition.scale = Some(ScaleResponse::average(0.6));
/// let found = analyze(&log, &options)?.segments.response;
/// assert_eq!((found.family, found.delay_s.value), (ResponseFamily::Average, 0.3));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScaleResponse {
    /// How it is built: `none`, `lag`, `two_lags`, `overshoot`, `average` or `lag_and_average`.
    pub family: ResponseFamily,
    /// Delay of the reading behind the load, s: the mean time of its response to a step.
    pub delay_s: Estimate,
    /// Sum of its lags, s; 0 without one.
    pub lag_s: f64,
    /// Damping ratio of a response with two lags (1 and above) or one that overshoots (below 1).
    pub damping_ratio: Maybe,
    /// Length of its moving average, s; 0 without one.
    pub average_s: f64,
    /// Where it is from: `given`, `calibrated`, `estimated` or `expected`.
    pub source: ResponseSource,
}
}

/// Prior median of the lag of a kitchen scale, s, and starting value of its fit.
pub(crate) const USUAL_LAG_S: f64 = 0.2;
const USUAL_LAG_SD: f64 = 0.6;
/// Longest delay of a scale, s.
pub(crate) const MOST_S: f64 = 5.0;
/// Bends that count as that of one lag, and of two.
const ONE_LAG: f64 = 0.05;
pub(crate) const TWO_EQUAL: f64 = 0.5;
/// A shorter lag or average is none, s.
pub(crate) const NONE_S: f64 = 1e-3;

impl ScaleResponse {
    /// A first-order lag, s.
    #[must_use]
    pub fn lag(lag_s: f64) -> Self {
        Self::new(Kernel { lag_s, bend: 0.0, average_s: 0.0 }, 0.0, ResponseSource::Given)
    }

    /// A moving average of this length, s.
    #[must_use]
    pub fn average(average_s: f64) -> Self {
        Self::new(Kernel { lag_s: 0.0, bend: 0.0, average_s }, 0.0, ResponseSource::Given)
    }

    /// What is usual for a kitchen scale.
    pub(crate) fn expected() -> Self {
        let kernel = Kernel { lag_s: USUAL_LAG_S, bend: 0.0, average_s: 0.0 };
        Self::new(kernel, USUAL_LAG_SD * USUAL_LAG_S, ResponseSource::Expected)
    }

    /// The same with a delay that is hardly known: the scale is built in another way.
    pub(crate) fn unsure(self) -> Self {
        let Estimate { value, sd } = self.delay_s;
        Self { delay_s: Estimate::new(value, sd.hypot(USUAL_LAG_SD * value.max(USUAL_LAG_S))), ..self }
    }

    /// A response by its parameters, with the sd of its delay, s.
    pub(crate) fn new(kernel: Kernel, sd_s: f64, source: ResponseSource) -> Self {
        let Kernel { lag_s, bend, average_s } = kernel;
        let family = match (lag_s > NONE_S, average_s > NONE_S) {
            (false, false) => ResponseFamily::None,
            (false, true) => ResponseFamily::Average,
            (true, true) => ResponseFamily::LagAndAverage,
            (true, false) if bend < ONE_LAG => ResponseFamily::Lag,
            (true, false) if bend <= TWO_EQUAL => ResponseFamily::TwoLags,
            (true, false) => ResponseFamily::Overshoot,
        };
        let damping_ratio = match bend {
            bend if bend < ONE_LAG => Err(Undefined::because("a response of one lag or none has none")),
            bend => Ok(Estimate::exact((2.0 * bend).sqrt().recip())),
        };
        let delay_s = Estimate::new(kernel.delay_s(), sd_s);
        Self { family, delay_s, lag_s, damping_ratio, average_s, source }
    }

    pub(crate) fn kernel(&self) -> Kernel {
        let bend = self.damping_ratio.as_ref().map_or(0.0, |ratio| 0.5 / (ratio.value * ratio.value));
        Kernel { lag_s: self.lag_s, bend, average_s: self.average_s }
    }

    /// What it shows of a step of 1 put on at once, so many seconds after it.
    ///
    /// ```
    /// // A lag shows 1 - 1/e of a step after its time constant.
    /// let shown = pourline::ScaleResponse::lag(0.2).shown(0.2);
    /// assert!((shown - 0.632_120_559).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn shown(&self, after_s: f64) -> f64 {
        self.kernel().shown(0, after_s)
    }

    /// The first rule that its numbers break, if any.
    pub(crate) fn broken(&self) -> Option<&'static str> {
        let within = |s: f64| (0.0..=MOST_S).contains(&s);
        if !(within(self.lag_s) && within(self.average_s) && within(self.delay_s.value)) {
            return Some("lag, average and delay must be 0 to 5 s");
        }
        if !(self.delay_s.sd.is_finite() && self.delay_s.sd >= 0.0) {
            return Some("the sd of the delay must be 0 s or more");
        }
        let is_damped = |ratio: &Estimate| (0.1..=10.0).contains(&ratio.value);
        if self.damping_ratio.as_ref().is_ok_and(|ratio| !is_damped(ratio)) {
            return Some("the damping ratio must be 0.1 to 10");
        }
        ((self.delay_s.value - self.kernel().delay_s()).abs() > 1e-6)
            .then_some("the delay must be that of lag and average: the lag, and half of the average")
    }
}

/// Lags, then an average.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kernel {
    pub lag_s: f64,
    pub bend: f64,
    pub average_s: f64,
}

impl Kernel {
    pub fn delay_s(&self) -> f64 {
        self.lag_s + 0.5 * self.average_s
    }

    /// What is shown of a load `t^n/n!` from 0 on; `n` is 0 to 2.
    pub fn shown(&self, n: u32, t: f64) -> f64 {
        let w = self.average_s;
        if w <= NONE_S {
            return self.lagged(n, t - 0.5 * w);
        }
        (self.lagged(n + 1, t) - self.lagged(n + 1, t - w)) / w
    }

    /// The same behind the lags alone; `n` is 0 to 3.
    fn lagged(&self, n: u32, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        if self.lag_s <= NONE_S {
            return power(n, t - self.lag_s);
        }
        let half = 0.5 * self.lag_s;
        // Two equal lags are the limit of two that differ.
        let apart = match 1.0 - 2.0 * self.bend {
            apart if apart.abs() < 1e-5 => 1e-5,
            apart => apart,
        };
        let root = Complex64::new(apart, 0.0).sqrt();
        let (slow, quick) = (half * (1.0 + root), half * (1.0 - root));
        let part = |tau: Complex64| if tau.norm() < 1e-9 { Complex64::ZERO } else { tau * lag(n, t, tau) };
        ((part(slow) - part(quick)) / (slow - quick)).re
    }
}

/// `t^n/n!` from 0 on.
fn power(n: u32, t: f64) -> f64 {
    if t <= 0.0 {
        return 0.0;
    }
    (1..=n).fold(1.0, |product, k| product * t / f64::from(k))
}

/// Response of a lag to `t^n/n!`: `L_n = t^n/n! - tau L_(n-1)`, `L_0 = 1 - exp(-t/tau)`.
fn lag(n: u32, t: f64, tau: Complex64) -> Complex64 {
    let shown = 1.0 - (-t / tau).exp();
    (1..=n).fold(shown, |shown, k| power(k, t) - tau * shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kernel(lag_s: f64, bend: f64, average_s: f64) -> Kernel {
        Kernel { lag_s, bend, average_s }
    }

    #[test]
    fn responses_are_those_of_textbooks() {
        let e = |x: f64| (-x).exp();
        // A first-order lag; two equal lags of .1 s: 1 - (1 + t/tau) exp(-t/tau).
        assert!((kernel(0.2, 0.0, 0.0).shown(0, 0.3) - (1.0 - e(1.5))).abs() < 1e-12);
        assert!((kernel(0.2, 0.5, 0.0).shown(0, 0.3) - (1.0 - 4.0 * e(3.0))).abs() < 1e-4);
        // Lags of .15 and .05 s: 1 - (.15 exp(-t/.15) - .05 exp(-t/.05))/.1; c = 2 t1 t2/(t1 + t2)^2.
        let two = 1.0 - (0.15 * e(2.0) - 0.05 * e(6.0)) / 0.1;
        assert!((kernel(0.2, 2.0 * 0.0075 / 0.04, 0.0).shown(0, 0.3) - two).abs() < 1e-12);
        // Damping ratio .5: the peak is 1 + exp(-pi .5/sqrt(.75)) at pi/(omega sqrt(.75)); D is 2 zeta/omega.
        let omega = 1.0 / 0.2;
        let peak = kernel(0.2, 2.0, 0.0).shown(0, std::f64::consts::PI / (omega * 0.75_f64.sqrt()));
        assert!((peak - 1.0 - e(std::f64::consts::PI * 0.5 / 0.75_f64.sqrt())).abs() < 1e-12);
        // An average of .6 s shows a third of a step after .2 s.
        assert!((kernel(0.0, 0.0, 0.6).shown(0, 0.2) - 1.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn a_level_flow_is_shown_late_by_the_delay() {
        for kernel in [
            kernel(0.2, 0.0, 0.0),
            kernel(0.2, 0.5, 0.0),
            kernel(0.1, 1.5, 0.0),
            kernel(0.0, 0.0, 0.6),
            kernel(0.1, 0.3, 0.4),
        ] {
            assert!((9.0 - kernel.shown(1, 9.0) - kernel.delay_s()).abs() < 1e-9, "{kernel:?}");
        }
    }

    #[test]
    fn a_response_names_its_family_and_gives_its_parameters_back() {
        let cases = [
            (kernel(0.0, 0.0, 0.0), ResponseFamily::None),
            (kernel(0.2, 0.0, 0.0), ResponseFamily::Lag),
            (kernel(0.2, 0.4, 0.0), ResponseFamily::TwoLags),
            (kernel(0.2, 1.5, 0.0), ResponseFamily::Overshoot),
            (kernel(0.0, 0.0, 0.5), ResponseFamily::Average),
            (kernel(0.1, 0.0, 0.4), ResponseFamily::LagAndAverage),
        ];
        for (kernel, family) in cases {
            let found = ScaleResponse::new(kernel, 0.01, ResponseSource::Given);
            assert_eq!((found.family, found.broken()), (family, None));
            assert!((found.kernel().bend - kernel.bend).abs() < 1e-12);
        }
        let mut wrong = ScaleResponse::lag(0.2);
        wrong.delay_s.value = 0.5;
        assert!(wrong.broken().unwrap().contains("half of the average"));
    }
}

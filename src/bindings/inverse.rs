//! `pourline.balance`, first part: the mass balance of an extraction, solved for each of its parts.
//!
//! A number is an `Estimate`, or a plain one taken as exact; an undefined result is an `Undefined` with the reason.

use super::estimate::maybe_from;
use super::show::Show;
use crate::estimate::{Estimate, Undefined};
use pyo3::prelude::*;

/// The arguments as estimates, or the reason why one of them is undefined.
pub(super) fn estimates<const N: usize>(
    given: [(&str, &Bound<'_, PyAny>); N],
) -> PyResult<Result<[Estimate; N], Undefined>> {
    let mut found = [Estimate::exact(f64::NAN); N];
    for (place, (name, value)) in found.iter_mut().zip(given) {
        match maybe_from(name, value)? {
            Ok(estimate) => *place = estimate,
            Err(why) => return Ok(Err(why)),
        }
    }
    Ok(Ok(found))
}

/// Functions of the core with their names and arguments.
macro_rules! formulas {
    ($($(#[$m:meta])* $name:ident($($given:ident),*);)*) => { $(
        $(#[$m])*
        #[pyfunction]
        pub(super) fn $name(py: Python<'_>, $($given: &Bound<'_, PyAny>),*) -> PyResult<Py<PyAny>> {
            let given = estimates([$((stringify!($given), $given)),*])?;
            given.and_then(|[$($given),*]| crate::extraction::inverse::$name($($given),*)).show(py)
        }
    )* };
}

formulas! {
    /// Strength of the beverage at which a yield is met, percent: E D/B.
    ///
    /// `yield_pct` is E, `dose_g` D, `beverage_g` B; each a number or an `Estimate`, whose sd is propagated.
    ///
    /// >>> from pourline import balance
    /// >>> f"{balance.strength_for_pct(20, dose_g=15, beverage_g=240).value:.2f} %"
    /// '1.25 %'
    strength_for_pct(yield_pct, dose_g, beverage_g);
    /// Beverage mass at which a yield is met at a strength, g: E D/T.
    ///
    /// `yield_pct` is E, `dose_g` D, `strength_pct` T; each a number or an `Estimate`, whose sd is propagated.
    ///
    /// >>> from pourline import Estimate, balance
    /// >>> f"{balance.beverage_for_g(20, dose_g=15, strength_pct=Estimate(1.25, 0.03))} g"
    /// '240.0 ± 5.8 g'
    beverage_for_g(yield_pct, dose_g, strength_pct);
    /// Water to pour for a yield at a strength, g: D (E/T + r).
    ///
    /// `yield_pct` is E, `dose_g` D, `strength_pct` T, `retention_g_per_g` r; each a number or an `Estimate`, whose sd
    /// is propagated.
    ///
    /// >>> from pourline import Estimate, balance
    /// >>> f"{balance.water_for_g(20, dose_g=15, strength_pct=1.25, retention_g_per_g=Estimate(2.1, 0.1))} g"
    /// '271.5 ± 1.5 g'
    water_for_g(yield_pct, dose_g, strength_pct, retention_g_per_g);
    /// Dose for a yield and a strength in a beverage mass, g: T B/E.
    ///
    /// `yield_pct` is E, `beverage_g` B, `strength_pct` T; each a number or an `Estimate`, whose sd is propagated.
    ///
    /// >>> from pourline import balance
    /// >>> balance.dose_for_g(20, beverage_g=240, strength_pct=1.25).value
    /// 15.0
    dose_for_g(yield_pct, beverage_g, strength_pct);
    /// Dose for a yield and a strength at a mass of poured water, g: W/(E/T + r).
    ///
    /// `yield_pct` is E, `water_g` W, `strength_pct` T, `retention_g_per_g` r; each a number or an `Estimate`, whose sd
    /// is propagated.
    ///
    /// >>> from pourline import balance
    /// >>> f"{balance.dose_for_water_g(20, water_g=271.5, strength_pct=1.25, retention_g_per_g=2.1).value:.2f} g"
    /// '15.00 g'
    dose_for_water_g(yield_pct, water_g, strength_pct, retention_g_per_g);
    /// Line of the brewing control chart: the strength at a yield and a brew ratio, percent: E/(W/D - r).
    ///
    /// `yield_pct` is E, `brew_ratio` W/D in g/g, `retention_g_per_g` r; each a number or an `Estimate`, whose sd is
    /// propagated.
    ///
    /// >>> from pourline import balance
    /// >>> f"{balance.chart_line_pct(20, brew_ratio=18, retention_g_per_g=2).value:.2f} %"
    /// '1.25 %'
    chart_line_pct(yield_pct, brew_ratio, retention_g_per_g);
    /// The line of full immersion, with all the water, percent: E/(W/D + E).
    ///
    /// `yield_pct` is E, `brew_ratio` W/D in g/g; each a number or an `Estimate`, whose sd is propagated.
    ///
    /// >>> from pourline import balance
    /// >>> f"{balance.immersion_strength_pct(21, brew_ratio=15).value:.3f} %"
    /// '1.381 %'
    immersion_strength_pct(yield_pct, brew_ratio);
}

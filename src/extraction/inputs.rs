//! In: numbers as they were given or weighed. Out: the same by name, or the reason why they are unusable.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::extraction::balance::{Balance, Named, Number};
use crate::extraction::given::{all, dose, finite, positive, reasons, stated};
use crate::extraction::options::ExtractionOptions;
use crate::extraction::result::{BeverageSource, Convention};
use crate::log::meta::Meta;

/// The names of a measured strength.
const STRENGTH: [&str; 3] = ["tds_pct", "brix_pct", "brix_factor"];
/// The inputs of the dry dose.
pub(super) const DOSE: [&str; 3] = ["dose_g", "moisture_pct", "co2_pct"];

/// The inputs of a brew, by name and in the order of its budget.
pub(super) struct Inputs {
    rows: Vec<Named<'static, Maybe>>,
    convention: Convention,
    /// The source of the beverage mass.
    pub source: Option<BeverageSource>,
    after_bypass: bool,
}

/// A formula of the mass balance.
pub(super) type Formula = fn(&Balance) -> Option<Number>;

impl Inputs {
    pub(super) fn gather(
        meta: &Meta,
        water_g: Maybe,
        beverage_g: Maybe,
        options: &ExtractionOptions,
    ) -> Self {
        let water_g = water_g.and_then(|water| positive("water_g", water));
        let dose_g = dose(meta, options.dose_sd_g);
        let mut rows = strength(meta, options);
        let (source, beverage) = beverage(&water_g, beverage_g, &dose_g, options);
        rows.push(("water_g", water_g));
        rows.push(beverage);
        if let Some(value) = options.bypass_g {
            rows.push(("bypass_g", stated("bypass_g", Some(value), options.bypass_sd_g)));
        }
        rows.push(("dose_g", dose_g));
        let not_coffee = [
            ("moisture_pct", options.moisture_pct, options.moisture_sd_pct),
            ("co2_pct", options.co2_pct, options.co2_sd_pct),
        ];
        for (name, value, sd) in not_coffee {
            if let Some(value) = value {
                rows.push((name, finite(name, Estimate::new(value, sd))));
            }
        }
        let vapour = Estimate::new(options.evaporated_g, options.evaporated_sd_g);
        rows.push(("evaporated_g", finite("evaporated_g", vapour)));
        let after_bypass = options.tds_after_bypass && options.bypass_g.is_some();
        Self { rows, convention: options.convention, source, after_bypass }
    }

    /// The input of that name.
    pub(super) fn at(&self, name: &str) -> Maybe {
        let found = self.rows.iter().find(|(known, _)| *known == name);
        found.map_or_else(
            || Err(Undefined::because(format!("{name} was not given"))),
            |(_, number)| number.clone(),
        )
    }

    /// The names of the known inputs, in order.
    pub(super) fn known(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.rows.iter().filter(|(_, number)| number.is_ok()).map(|(name, _)| *name)
    }

    /// The inputs of the beverage's mass.
    pub(super) fn beverage(&self) -> &'static [&'static str] {
        if self.rows.iter().any(|(name, _)| *name == "beverage_g") {
            &["beverage_g"]
        } else {
            &["water_g", "retention_g_per_g", "dose_g"]
        }
    }

    /// The beverage's mass: weighed, or water less a stated retention.
    pub(super) fn beverage_g(&self) -> Maybe {
        if self.beverage().len() == 1 {
            return self.at("beverage_g");
        }
        all([&self.at("water_g"), &self.at("retention_g_per_g"), &self.at("dose_g")])
            .map(|[w, r, d]| w.minus(r.times(d)))
    }

    /// The inputs of the strength of the liquid that left the bed.
    pub(super) fn strength(&self) -> Vec<&'static str> {
        let past_bed = if self.after_bypass { [self.beverage(), &["bypass_g"]].concat() } else { Vec::new() };
        [&STRENGTH[..], &past_bed].concat()
    }

    /// The inputs of the strength of the cup.
    pub(super) fn cup_strength(&self) -> Vec<&'static str> {
        let diluted = !self.after_bypass && self.rows.iter().any(|(name, _)| *name == "bypass_g");
        let by_water = if diluted { [self.beverage(), &["bypass_g"]].concat() } else { Vec::new() };
        [&STRENGTH[..], &by_water].concat()
    }

    /// The inputs of the water retained in the bed.
    pub(super) fn spent(&self) -> Vec<&'static str> {
        [&self.strength(), &["water_g", "evaporated_g"][..], self.beverage(), &DOSE].concat()
    }

    /// The named inputs in order, or every reason why one is missing.
    pub(super) fn pick(&self, names: &[&str]) -> Result<Vec<Named<'static, Estimate>>, Undefined> {
        let picked = || self.rows.iter().filter(|(name, _)| names.contains(name));
        if let Some(why) = reasons(picked().map(|(_, number)| number)) {
            return Err(why);
        }
        Ok(picked().filter_map(|(name, number)| Some((*name, *number.as_ref().ok()?))).collect())
    }

    /// The value of a formula of the named inputs, with its sd; `name` stands in the reason.
    pub(super) fn work_out(&self, name: &str, names: &[&str], formula: Formula) -> Maybe {
        let picked = self.pick(names)?;
        finite(name, with_sd(self.formula(&numbers(&picked), formula)?, &picked))
    }

    /// The value of a formula of numbers.
    pub(super) fn formula(&self, inputs: &[Named<Number>], formula: Formula) -> Result<Number, Undefined> {
        let balance = Balance { convention: self.convention, after_bypass: self.after_bypass, inputs };
        formula(&balance).ok_or_else(|| Undefined::because("an input of the mass balance is missing"))
    }
}

/// The strength as measured: TDS if it was given, else Brix and its factor.
fn strength(meta: &Meta, options: &ExtractionOptions) -> Vec<Named<'static, Maybe>> {
    let sd_pct = meta.tds_sd_pct.unwrap_or(options.tds_sd_pct);
    let whole = |tds: Estimate, name: &str| match tds.value {
        ..=100.0 => Ok(tds),
        above => Err(Undefined::because(format!("{name} is {above}: it must be at most 100"))),
    };
    if meta.brix_pct.is_none() || meta.tds_pct.is_some() {
        let tds = stated("tds_pct", meta.tds_pct, sd_pct).and_then(|tds| whole(tds, "tds_pct"));
        return vec![("tds_pct", tds)];
    }
    let brix = stated("brix_pct", meta.brix_pct, meta.brix_sd_pct.unwrap_or(options.tds_sd_pct));
    let factor = stated("brix_factor", options.brix_factor, options.brix_factor_sd);
    let product = all([&brix, &factor]).and_then(|[b, f]| whole(b.times(f), "brix_pct times brix_factor"));
    match product {
        Ok(_) => vec![("brix_pct", brix), ("brix_factor", factor)],
        Err(why) => vec![("tds_pct", Err(why))],
    }
}

/// The source of the beverage mass, and its input.
fn beverage(
    water_g: &Maybe,
    beverage_g: Maybe,
    dose_g: &Maybe,
    options: &ExtractionOptions,
) -> (Option<BeverageSource>, Named<'static, Maybe>) {
    match (beverage_g, options.retention_g_per_g) {
        // An invalid weighed mass stays undefined: an estimate must not replace it silently.
        (Ok(weighed), _) => (Some(BeverageSource::Weighed), ("beverage_g", positive("beverage_g", weighed))),
        (Err(_), retention @ Some(_)) => {
            let retention = stated("retention_g_per_g", retention, options.retention_sd_g_per_g);
            let left = all([water_g, &retention, dose_g])
                .and_then(|[w, r, d]| positive("water_g less the retained water", w.minus(r.times(d))));
            let input = match left {
                Ok(_) => ("retention_g_per_g", retention),
                Err(why) => ("beverage_g", Err(why)),
            };
            (Some(BeverageSource::FromRetention), input)
        }
        (Err(why), None) => {
            let why = Undefined::because(format!("{}; retention_g_per_g was not given", why.reason));
            (None, ("beverage_g", Err(why)))
        }
    }
}

/// The inputs as dual numbers.
pub(super) fn numbers<'a>(inputs: &[Named<'a, Estimate>]) -> Vec<Named<'a, Number>> {
    inputs.iter().enumerate().map(|(i, (name, x))| (*name, Number::input(x.value, i))).collect()
}

/// A computed number with its sd from the inputs.
pub(super) fn with_sd(found: Number, inputs: &[Named<Estimate>]) -> Estimate {
    Estimate::new(found.value, found.sd(std::array::from_fn(|i| inputs.get(i).map_or(0.0, |(_, x)| x.sd))))
}

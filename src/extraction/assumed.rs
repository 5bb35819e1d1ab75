//! In: metadata and options. Out: the inputs whose sd nobody stated, so that it is the default of its option.

use crate::extraction::options::ExtractionOptions;
use crate::log::meta::Meta;

/// Whether the sd of an input is the default of its option. An option set to its default counts as not stated.
pub(super) fn is_assumed(name: &str, meta: &Meta, options: &ExtractionOptions) -> bool {
    let usual = ExtractionOptions::default();
    let (stated, option, default) = match name {
        "tds_pct" => (meta.tds_sd_pct, options.tds_sd_pct, usual.tds_sd_pct),
        "brix_pct" => (meta.brix_sd_pct, options.tds_sd_pct, usual.tds_sd_pct),
        "dose_g" => (meta.dose_sd_g, options.dose_sd_g, usual.dose_sd_g),
        "brix_factor" => (None, options.brix_factor_sd, usual.brix_factor_sd),
        "retention_g_per_g" => (None, options.retention_sd_g_per_g, usual.retention_sd_g_per_g),
        "bypass_g" => (None, options.bypass_sd_g, usual.bypass_sd_g),
        "moisture_pct" => (None, options.moisture_sd_pct, usual.moisture_sd_pct),
        "co2_pct" => (None, options.co2_sd_pct, usual.co2_sd_pct),
        // Weighed, with an sd of this log, or exact.
        _ => return false,
    };
    stated.is_none() && option.total_cmp(&default).is_eq()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_sd_is_assumed_unless_the_metadata_or_an_option_state_it() {
        let (no_meta, usual) = (Meta::default(), ExtractionOptions::default());
        assert!(
            ["tds_pct", "dose_g", "retention_g_per_g"].iter().all(|name| is_assumed(name, &no_meta, &usual))
        );
        assert!(!is_assumed("water_g", &no_meta, &usual) && !is_assumed("beverage_g", &no_meta, &usual));
        let known = Meta { tds_sd_pct: Some(0.03), ..Meta::default() };
        assert!(!is_assumed("tds_pct", &known, &usual) && is_assumed("dose_g", &known, &usual));
        let set = ExtractionOptions { tds_sd_pct: 0.05, retention_sd_g_per_g: 0.1, ..usual };
        assert!(!is_assumed("tds_pct", &no_meta, &set) && !is_assumed("retention_g_per_g", &no_meta, &set));
        assert!(!is_assumed("brix_pct", &no_meta, &set) && is_assumed("dose_g", &no_meta, &set));
    }
}

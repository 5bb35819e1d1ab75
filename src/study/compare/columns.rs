//! Meaning of the columns of this stage's tables.

use crate::rows::columns;

/// Unit of a column that has the unit of the compared measure.
pub(super) const UNIT: &str = "that of the measure";
const ENOUGH: &str = "there are enough brews; otherwise it is undefined, with the reason";
const WELCH: &str = "Welch 1947, Biometrika 34, 28; with blocks least squares";

columns! {
    /// The measure that was compared.
    measure {},
    /// Name of the group.
    group {
        reference: "metadata",
    },
    /// The first group of the pair.
    a {
        reference: "metadata",
    },
    /// The second group of the pair.
    b {
        reference: "metadata",
    },
    /// Experimental units of the group: brews, or people or days if these carry the groups.
    units {},
    /// Experimental units of the first group.
    units_a {
        formula: "those in blocks that have both groups",
    },
    /// Experimental units of the second group.
    units_b {
        formula: "those in blocks that have both groups",
    },
    /// Number of brews with a defined value.
    brews {},
    /// Mean of the group, of the day, or of the two values of a pair.
    mean {
        unit: UNIT,
        formula: "sum over number",
        reference: "arithmetic",
    },
    /// Sd between the brews of the group, or of the source of variance.
    sd {
        unit: UNIT,
        formula: "root of the variance",
        valid: "there are two brews",
        reference: "ISO 5725-2:2019; as low for a source",
    },
    /// B less a within blocks; for two scales, the first less the second.
    difference {
        unit: UNIT,
        formula: "least squares on group and block",
        valid: "a block has both groups",
        reference: WELCH,
    },
    /// Lower end of the 95 % interval, or that of the level asked for.
    low {
        unit: UNIT,
        formula: "Student's t; chi-squared for spreads",
        valid: ENOUGH,
        reference: "Welch 1947, Biometrika 34, 28; with blocks least squares; Burdick, Borror and Montgomery 2003, \
                    J. Qual. Technol. 35, 342; REML: Patterson and Thompson 1971, Biometrika 58, 545",
    },
    /// Upper end of the interval that begins at low.
    high {
        unit: UNIT,
        formula: "as low",
        valid: "as low",
        reference: "as low",
    },
    /// Lower end of the interval by the bootstrap, which does not assume normal residuals.
    bootstrap_low {
        unit: UNIT,
        formula: "bias-corrected and accelerated bootstrap of the residuals",
        valid: ENOUGH,
        reference: "Efron 1987, J. Am. Stat. Assoc. 82, 171",
    },
    /// Upper end of the interval that begins at bootstrap_low.
    bootstrap_high {
        unit: UNIT,
        formula: "as bootstrap_low",
        valid: "as bootstrap_low",
        reference: "as bootstrap_low",
    },
    /// Lower end of the simultaneous interval of all pairs.
    tukey_low {
        unit: UNIT,
        formula: "studentised range",
        valid: ENOUGH,
        reference: "Tukey 1953; Kramer 1956, Biometrics 12, 307",
    },
    /// Upper end of the interval that begins at tukey_low.
    tukey_high {
        unit: UNIT,
        formula: "as tukey_low",
        valid: "as tukey_low",
        reference: "as tukey_low",
    },
    /// The difference in percent of the mean of a.
    difference_pct {
        formula: "100 difference / mean of a",
        valid: "that mean differs from 0 by more than two sd",
    },
    /// Lower end of the interval of difference_pct.
    low_pct {
        formula: "as low",
        valid: "as difference_pct",
    },
    /// Upper end of the interval that begins at low_pct.
    high_pct {
        formula: "as low",
        valid: "as difference_pct",
    },
    /// The difference over the sd within groups and blocks.
    hedges_g {
        unit: "",
        formula: "difference / sd, corrected for few values",
        valid: ENOUGH,
        reference: "Hedges 1981, J. Educ. Stat. 6, 107",
    },
    /// Lower end of the interval of hedges_g.
    hedges_g_low {
        formula: "noncentral t",
        valid: "as hedges_g",
        reference: "Steiger and Fouladi 1997",
    },
    /// Upper end of the interval of hedges_g.
    hedges_g_high {
        formula: "noncentral t",
        valid: "as hedges_g",
        reference: "Steiger and Fouladi 1997",
    },
    /// The difference over its standard error.
    t {
        formula: "difference / difference_sd",
        valid: ENOUGH,
        reference: WELCH,
    },
    /// Degrees of freedom: of t, or of the mean square above the line of f.
    degrees {
        formula: "Welch and Satterthwaite; number of values less fitted parameters",
        valid: ENOUGH,
        reference: WELCH,
    },
    /// Probability of a result at least as large by chance alone.
    p {
        formula: "permutation of the groups within blocks, exactly or with p = (b + 1)/(m + 1); for the intraclass \
                  correlation, Fisher's F",
        valid: "the design allows it; otherwise p_reason has the reason",
        reference: "Phipson and Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9, 39",
    },
    /// P, corrected for the number of pairs.
    p_holm {
        formula: "Holm's step down",
        valid: "as p",
        reference: "Holm 1979, Scand. J. Stat. 6, 65",
    },
    /// P by Student's t.
    p_model {
        formula: "two-sided t test",
        valid: "residuals are normal",
        reference: WELCH,
    },
    /// P of the test that the difference is the same in all blocks.
    p_interaction {
        formula: "F of group by block",
        valid: "groups are repeated within blocks",
        reference: "analysis of variance",
    },
    /// P of the test of equivalence within the margin.
    p_equivalence {
        formula: "the larger p of two one-sided t tests",
        valid: "a margin was stated",
        reference: "Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657",
    },
    /// Minimum detectable difference: the smallest one that this study detects with the stated power.
    minimum_detectable_difference {
        unit: UNIT,
        formula: "noncentral t",
        valid: ENOUGH,
        reference: "Cohen 1988, Statistical Power Analysis, chapter 2",
    },
    /// Why there is no p.
    p_reason {},
    /// The brew with the higher own yield.
    higher {
        reference: "metadata",
    },
    /// The brew with the lower own yield.
    lower {
        reference: "metadata",
    },
    /// Difference of their own yields.
    own_difference_pct {},
    /// Difference of their yields with the mean beverage; below 0 if the order is reversed.
    with_mean_difference_pct {},
    /// `yes` if the own yields differ by more than two sd, else `no`.
    clear {},
}

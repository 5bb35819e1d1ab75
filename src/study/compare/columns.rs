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
        formula: "differences that p does not reject; Student's t for agreement; chi-squared for spreads",
        valid: ENOUGH,
        reference: "as p; Burdick, Borror and Montgomery 2003, \
                    J. Qual. Technol. 35, 342; REML: Patterson and Thompson 1971, Biometrika 58, 545",
    },
    /// Upper end of the interval that begins at low.
    high {
        unit: UNIT,
        formula: "as low",
        valid: "as low",
        reference: "as low",
    },
    /// The difference in percent of the mean of a.
    difference_pct {
        formula: "100 difference / mean of a",
        valid: "that mean differs from 0 by more than two sd",
    },
    /// Lower end of the interval of difference_pct.
    low_pct {
        formula: "as low, for a ratio of means",
        valid: "as difference_pct",
        reference: "Fieller 1954, J. R. Stat. Soc. B 16, 175",
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
        formula: "permutation of the groups within blocks, exactly or with p = (b + 1)/(m + 1); Games and Howell for \
                  unequal counts; for the intraclass correlation, Fisher's F",
        valid: "the design allows it; otherwise p_reason has the reason",
        reference: "Pitman 1937, J. R. Stat. Soc. Suppl. 4, 119; Phipson and Smyth 2010, Stat. Appl. Genet. Mol. \
                    Biol. 9, 39; Games and Howell 1976, J. Educ. Stat. 1, 113",
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
        formula: "the larger p of two one-sided tests, by the method of p",
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
    /// What the pair shows: `shown`, `not shown`, or `equivalent` (within the margin).
    verdict {
        formula: "p, or p_equivalence, of at most 1 - level",
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

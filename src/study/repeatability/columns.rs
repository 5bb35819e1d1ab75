//! Meaning of the columns of this stage's tables.

use crate::rows::columns;

const SPREADS: &str = "Burdick, Borror and Montgomery 2003, J. Qual. Technol. 35, 342; \
                       REML: Patterson and Thompson 1971, Biometrika 58, 545";

columns! {
    /// Form of the intraclass correlation: ICC(1,1) to ICC(3,k).
    form {
        reference: "Shrout and Fleiss 1979, Psychol. Bull. 86, 420",
    },
    /// Share of the variance that lies between subjects.
    icc {
        formula: "from the mean squares of the form",
        valid: "every rater has every subject; for the first forms, equal numbers of values",
        reference: "McGraw and Wong 1996, Psychol. Methods 1, 30",
    },
    /// Mean square between subjects over that of the error.
    f {
        formula: "ratio of the two mean squares",
        valid: "as icc",
        reference: "analysis of variance",
    },
    /// Degrees of freedom of the mean square below the line of f.
    degrees_below {
        valid: "as icc",
        reference: "analysis of variance",
    },
    /// Meaning of the number.
    meaning {},
    /// `anova` or `reml`.
    method {
        reference: SPREADS,
    },
    /// The source of variance.
    source {},
    /// The source's variance in percent of the total.
    share_pct {
        formula: "100 variance / total variance",
        valid: "as sd",
        reference: SPREADS,
    },
    /// The source's sd in percent of the total sd.
    study_pct {
        formula: "100 sd / total sd",
        valid: "as sd",
        reference: "study variation; common practice, no source",
    },
    /// 1 if the difference lies outside of the limits of agreement, else 0.
    outside {
        formula: "mean difference plus or minus 1.96 sd",
        valid: "there are three pairs",
        reference: "Bland and Altman 1986, Lancet 327, 307",
    },
}

//! Meaning of the columns of this stage's tables.

use crate::rows::columns;

const UNIT: &str = "that of the measure";
const POOLED: &str = "Barlow and others 1972, Statistical Inference under Order Restrictions";
const LINE: &str = "Draper and Smith 1998, Applied Regression Analysis, chapters 1 to 3";

columns! {
    /// Setting x, from the lowest tried to the highest.
    setting {
        unit: "that of the setting",
    },
    /// The least-squares line at the setting.
    line {
        unit: UNIT,
        formula: "a + b x",
        valid: "there are three settings and four brews",
        reference: LINE,
    },
    /// Lower end of the confidence interval of the line.
    mean_low {
        unit: UNIT,
        formula: "Student's t",
        valid: "as line",
        reference: LINE,
    },
    /// Upper end of the interval that begins at mean_low.
    mean_high {
        unit: UNIT,
        formula: "Student's t",
        valid: "as line",
        reference: LINE,
    },
    /// Lower end of the prediction interval of one more brew, by the line.
    prediction_low {
        unit: UNIT,
        formula: "Student's t",
        valid: "as line",
        reference: LINE,
    },
    /// Upper end of the interval that begins at prediction_low.
    prediction_high {
        unit: UNIT,
        formula: "Student's t",
        valid: "as line",
        reference: LINE,
    },
    /// The monotone curve at the setting.
    monotone {
        unit: UNIT,
        formula: "pooled adjacent violators",
        valid: "as line",
        reference: POOLED,
    },
    /// Lower end of the band of the monotone curve.
    monotone_low {
        unit: UNIT,
        formula: "quantile of sampled curves",
        valid: "the sd of one brew is known",
        reference: "Dunson and Neelon 2003, Biometrics 59, 286",
    },
    /// Upper end of the interval that begins at monotone_low.
    monotone_high {
        unit: UNIT,
        formula: "quantile of sampled curves",
        valid: "as monotone_low",
        reference: "as monotone_low",
    },
}

//! Meaning of the columns of this stage's tables.

use crate::rows::columns;

columns! {
    /// Time: of a profile, since the start of the first pour; else the log's own stamp.
    time_s {},
    /// Flow of water: the profile's mean; of a plan, that on the plateau.
    flow_g_per_s {
        formula: "mean over brews; as plateau_flow_g_per_s",
        valid: "as plateau_flow_g_per_s",
    },
    /// Measurement part of the sd between brews.
    scale_sd_g_per_s {
        formula: "root mean square of the flows' own sd",
    },
    /// Mean flow of the first group.
    a_flow_g_per_s { formula: "mean over the brews of the first group", },
    /// Mean flow of the second group.
    b_flow_g_per_s { formula: "mean over the brews of the second group", },
    /// Difference of the mean flows, second less first.
    difference_g_per_s { formula: "least squares with a level for each block", },
    /// Lower edge of the simultaneous band of the difference.
    difference_low_g_per_s {
        formula: "difference less u times its error, u by dealing the groups within blocks",
        valid: "the smallest p of the dealing is at most 1 - level",
        reference: "Westfall and Young 1993, Resampling-Based Multiple Testing, section 2.3",
    },
    /// Upper edge of the band whose lower edge is difference_low_g_per_s.
    difference_high_g_per_s {
        formula: "as difference_low_g_per_s",
        valid: "as difference_low_g_per_s",
        reference: "as difference_low_g_per_s",
    },
    /// Lower edge of the simultaneous band of the mean curve.
    low_g_per_s {
        formula: "mean less u sd/sqrt(n), u by the expected Euler characteristic of Student's t",
        valid: "there are four brews",
        reference: "Telschow and Schwartzman 2022, J. Stat. Plan. Inference 216, 70",
    },
    /// Upper edge of the band whose lower edge is low_g_per_s.
    high_g_per_s {
        formula: "as low_g_per_s",
        valid: "as low_g_per_s",
        reference: "as low_g_per_s",
    },
}

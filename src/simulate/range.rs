//! Ranges from which a seed draws.

/// Lowest and highest value; each draw is uniform between them.
pub type Range = [f64; 2];
/// Smallest and largest count.
pub type Count = [u32; 2];

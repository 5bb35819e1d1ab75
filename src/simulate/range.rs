//! What a recipe leaves to the seed.

/// Lowest and highest value; each draw is uniform between them.
pub type Range = [f64; 2];
/// Fewest and most.
pub type Count = [u32; 2];

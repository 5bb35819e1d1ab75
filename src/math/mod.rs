//! Numbers only: nothing here has heard of coffee.

pub(crate) mod random;

//! Numbers only: helpers that know nothing of coffee. Private to the crate.

pub(crate) mod dual;
pub(crate) mod fourier;
pub(crate) mod line;
pub(crate) mod normal;
pub(crate) mod random;
pub(crate) mod robust;
pub(crate) mod solve;
pub(crate) mod student;
pub(crate) mod trend;

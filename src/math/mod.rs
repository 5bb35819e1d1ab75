//! Numbers only: functions without reference to coffee. Private to the crate.

pub(crate) mod digest;
pub(crate) mod distribution;
pub(crate) mod dual;
pub(crate) mod fourier;
pub(crate) mod inner;
pub(crate) mod line;
pub(crate) mod noncentral;
pub(crate) mod quadrature;
pub(crate) mod random;
pub(crate) mod robust;
pub(crate) mod serial;
pub(crate) mod solve;
pub(crate) mod studentized;
pub mod water;

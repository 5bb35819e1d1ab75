//! Treatment of missing readings.

use crate::error::{Error, Result};
use crate::log::units;

/// Treatment of a missing reading (NaN in an array, an empty cell in a file).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Missing {
    /// Refuse the log and name the row.
    #[default]
    Refuse,
    /// Accept it; `condition` flags the sample and does not use it.
    Flag,
}

impl std::str::FromStr for Missing {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        match text {
            "refuse" => Ok(Self::Refuse),
            "flag" => Ok(Self::Flag),
            _ => Err(Error::Argument {
                name: "missing".into(),
                message: format!("{:?} is neither \"refuse\" nor \"flag\"", units::cut(text)),
            }),
        }
    }
}

//! Options for the columns of a file or table.

use crate::log::missing::Missing;
use crate::log::units::{MassUnit, TimeUnit};

/// Options for the columns of a file or table. Each may be absent if the names of the columns state it.
///
/// ```
/// use pourline::{Log, MassUnit, Meta, ReadOptions, TimeUnit};
/// let text = "0;0,0\n100;0,4\n200;1,1\n";
/// let options = ReadOptions {
///     time: Some("1".into()),
///     water: Some("2".into()),
///     time_unit: Some(TimeUnit::Ms),
///     mass_unit: Some(MassUnit::G),
///     ..ReadOptions::default()
/// };
/// let log = Log::read_bytes(text.as_bytes(), &options, Meta::default())?;
/// assert_eq!(log.time_s(), [0.0, 0.1, 0.2]);
/// assert_eq!(log.water_g(), Some(&[0.0, 0.4, 1.1][..]));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadOptions {
    /// The time column: its name, or its number from 1. Absent: found by its name, see [`choose`](super::choose).
    pub time: Option<String>,
    /// The column of the water poured, likewise.
    pub water: Option<String>,
    /// The column of the beverage, likewise.
    pub beverage: Option<String>,
    /// Unit of the time column. Absent: its name states it (`time_ms`, `t [s]`); dates and times need none.
    pub time_unit: Option<TimeUnit>,
    /// Unit of the weights. Absent: their names state it (`water_kg`, `weight (oz)`).
    pub mass_unit: Option<MassUnit>,
    /// Treatment of an empty cell of a weight.
    pub missing: Missing,
}

//! The five levels of difficulty at which the accuracy of the library is stated.

use super::fault_recipe::Drift;
use super::fault_recipe::Gaps;
use super::fault_recipe::Knocks;
use super::fault_recipe::Lifts;
use super::fault_recipe::Preparation;
use crate::simulate::fault_recipe::Faults;
use crate::simulate::recipe::{Hand, Recipe, Scale};
use serde::{Deserialize, Serialize};

/// A named recipe. Every level draws 2 to 6 pours of 12 to 120 g at 2.5 to 17 g/s with ramps of 0.1 to 0.7 s and rests
/// of 6 to 40 s.
///
/// ```
/// use pourline::{Level, Log, Truth, simulate};
/// let (log, truth): (Log, Truth) = simulate(&Level::Hard.recipe(), 1)?;
/// assert!((2..=6).contains(&truth.pours.len()));
/// assert_eq!(log.len(), truth.time_s.len());
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// 10 Hz; lag .05 to .15 s, noise .02 g, readout .1 g, tremor to 12 %; no disturbances.
    Clean,
    /// 10 Hz; lag .1 to .35 s, noise .06 g, stamp jitter 12 %, tremor to 12 %, knocks, gaps to 1.2 s.
    Usual,
    /// 10 Hz; noise .12 g, tremor to 30 %, more knocks, gaps to 2.5 s, a lift with swirl, drift of zero, rinse and
    /// zeroing before the brew. Of the lifts 30 % are swung over the scale, and 30 % act without the lag.
    Hard,
    /// As `Usual`, at 50 Hz.
    #[serde(rename = "usual_50_hz")]
    Usual50Hz,
    /// As `Usual`, at 5 Hz.
    #[serde(rename = "usual_5_hz")]
    Usual5Hz,
}

impl Level {
    /// The levels, in the order of the table.
    pub const ALL: [Self; 5] = [Self::Clean, Self::Usual, Self::Hard, Self::Usual50Hz, Self::Usual5Hz];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Usual => "usual",
            Self::Hard => "hard",
            Self::Usual50Hz => "usual_50_hz",
            Self::Usual5Hz => "usual_5_hz",
        }
    }

    /// Its recipe.
    #[must_use]
    pub fn recipe(self) -> Recipe {
        let usual = |rate_hz| Recipe {
            scale: Scale { rate_hz, ..Scale::default() },
            faults: Faults {
                knocks: Knocks { count: [1, 4], ..Knocks::default() },
                gaps: Gaps { count: [1, 2], duration_s: [0.4, 1.2], ..Gaps::default() },
                ..Faults::default()
            },
            ..Recipe::default()
        };
        match self {
            Self::Clean => Recipe {
                scale: Scale { lag_s: [0.05, 0.15], noise_sd_g: 0.02, jitter: 0.0, ..Scale::default() },
                ..Recipe::default()
            },
            Self::Usual => usual(10.0),
            Self::Usual50Hz => usual(50.0),
            Self::Usual5Hz => usual(5.0),
            Self::Hard => Recipe {
                hand: Hand { tremor: [0.0, 0.3], ..Hand::default() },
                scale: Scale { noise_sd_g: 0.12, ..Scale::default() },
                faults: Faults {
                    preparation: Preparation { share: 1.0, ..Preparation::default() },
                    knocks: Knocks { count: [4, 10], ..Knocks::default() },
                    gaps: Gaps { count: [1, 3], duration_s: [0.6, 2.5], ..Gaps::default() },
                    lifts: Lifts { count: [1, 1], swung: 0.3, through_lag: 0.7, ..Lifts::default() },
                    drift: Drift { reach_g: [0.5, 2.0], ..Drift::default() },
                    ..Faults::default()
                },
                ..Recipe::default()
            },
        }
    }
}

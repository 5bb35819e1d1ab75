//! One warning of a comparison: its kind, what it is about, and its sentence.

use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

words! {
/// Kind of a caution.
pub enum CautionKind {
    /// A factor that is not a block changes with the group: the difference may be the factor's.
    Confounded = "confounded",
    /// A factor that is not a block is spread unevenly over the groups.
    Uneven = "uneven",
    /// Names of groups differ by case or blanks only.
    AlikeNames = "alike_names",
    /// The groups follow each other in the order of the brews.
    Order = "order",
    /// The order of the brews is unknown.
    OrderUnknown = "order_unknown",
    /// The brews do not follow their planned order, or some were not brewed.
    NotAsPlanned = "not_as_planned",
    /// The measure drifts with the order of the brews.
    Trend = "trend",
    /// Neighbouring brews correlate.
    Correlated = "correlated",
    /// All brews are by one person.
    OnePerson = "one_person",
    /// Few people took part.
    FewPeople = "few_people",
    /// Many values are equal.
    Tied = "tied",
    /// The groups scatter unequally.
    UnequalScatter = "unequal_scatter",
    /// The groups have unequal numbers of brews, and one is small.
    UnequalCounts = "unequal_counts",
    /// One brew lies far from its group.
    Outlier = "outlier",
    /// Values are missing.
    Missing = "missing",
    /// Values are missing in one group more than in another.
    MissingLeans = "missing_leans",
    /// Means over pours that lack some.
    Partial = "partial",
    /// Brews carry warnings of their own.
    Warned = "warned",
    /// Rows of a brew were averaged.
    Averaged = "averaged",
    /// The experimental unit is not the brew.
    Unit = "unit",
    /// Values in blocks without the other group.
    LeftOut = "left_out",
    /// The difference depends on the block.
    Interaction = "interaction",
    /// A pair has no p.
    NoP = "no_p",
    /// Measurement explains much of the scatter.
    Measurement = "measurement",
}
}

rows! { $
/// One warning of a comparison, with a kind to select by.
///
/// ```
/// use pourline::study::{Caution, CautionKind};
/// use pourline::{ContrastOptions, Study, Table, Values, compare};
/// let text = |words: &[&str]| Values::Text(words.iter().map(|w| (*w).into()).collect());
/// let mut table = Table::default();
/// table.push("kettle", "", text(&["Fernspout", "Broadlip"].repeat(4)));
/// table.push("person", "", text(&["Ada", "Bo"].repeat(4)));
/// table.push("flow", "g/s", Values::Number(vec![6.1, 6.9, 6.3, 7.0, 5.8, 6.7, 5.9, 7.1]));
/// let found = compare(&Study::of(&table)?, "flow", "kettle", &[], &ContrastOptions::default())?;
/// let first: &Caution = &found.contrasts.cautions[0];
/// assert_eq!((first.kind, first.about.as_str()), (CautionKind::Confounded, "person"));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Caution {
    /// Its kind.
    pub kind: CautionKind,
    /// The factor, group, pair or brew that it is about; empty if it is about the study.
    pub about: String,
    /// The warning: the fact, then what to do.
    pub text: String,
}
}

impl Caution {
    pub(crate) fn new(kind: CautionKind, about: &str, text: String) -> Self {
        Self { kind, about: about.into(), text }
    }
}

//! All guards of a comparison, the gravest first.

use crate::study::gather::study::{Study, Taken};
use crate::study::guards::caution::Caution;
use crate::study::guards::factors::{alike_names, factors, people};
use crate::study::guards::missing::{missing, warned};
use crate::study::guards::order::order;
use crate::study::guards::shape::{outliers, tied, unequal, unequal_counts};
use crate::study::guards::view::View;

/// Cautions about the design: those of factors, order and people (unless the comparison is about people like these);
/// and about the values.
pub(crate) fn guards(
    study: &Study,
    taken: &Taken,
    by: &str,
    blocks: &[&str],
    of_all_people: bool,
) -> [Vec<Caution>; 2] {
    let view = View::new(taken);
    let unit = if taken.unit.is_empty() { String::new() } else { format!(" {}", taken.unit) };
    let mut design = factors(study, &view, by, blocks);
    design.extend(order(study, &view, by));
    design.extend(people(study, &view, by).filter(|_| !of_all_people));
    design.extend(alike_names(&view));
    let mut values = outliers(&view, &unit);
    values.extend(unequal(&view, &unit));
    values.extend(unequal_counts(&view));
    values.extend(tied(&view));
    values.extend(warned(study, taken));
    values.extend(missing(study, taken, &view, by));
    [design, values]
}

//! In: a name that does not exist, and those that do. Out: the nearest of them, for messages.

/// A name shorter than this begins too many others.
const LONG: usize = 4;

/// The known name that is the nearest to one that does not exist: one that begins with it, or the one of least steps.
pub(super) fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> &'a str {
    let begins = |known: &str| name.len() >= LONG && known.starts_with(name);
    known.min_by_key(|known| (!begins(known), steps(name, known))).unwrap_or_default()
}

/// Levenshtein distance: insertions, deletions and substitutions between two words.
pub(super) fn steps(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (i, a) in from.chars().enumerate() {
        let mut corner = std::mem::replace(&mut row[0], i + 1);
        for (j, b) in to.iter().enumerate() {
            let change = corner + usize::from(a != *b);
            let least = change.min(row[j] + 1).min(row[j + 1] + 1);
            corner = std::mem::replace(&mut row[j + 1], least);
        }
    }
    row[to.len()]
}

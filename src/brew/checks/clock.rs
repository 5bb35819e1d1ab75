//! Whether the clock of the log was changed while it ran.

use crate::brew::checks::found::Found;

/// Least number of rows behind an earlier stamp. Two exchanged neighbours are one such row, and are sorted.
const ROWS: usize = 5;

/// Stamps step back and stay behind: readings overlap, or their order is wrong.
pub(super) fn set_back(found: &Found) -> Option<String> {
    let time_s = found.log.time_s();
    let mut latest = 0;
    let mut behind = 0;
    for (i, &t) in time_s.iter().enumerate() {
        behind = if t < time_s[latest] { behind + 1 } else { 0 };
        if behind == 0 {
            latest = i;
        }
        if behind == ROWS {
            let first = i + 1 - ROWS;
            return Some(format!(
                "the stamps step back by {} at row {} (clock set back, or rows written late): rows are sorted by time \
                 and readings may overlap; correct the stamps",
                duration(time_s[latest] - time_s[first]),
                first + 1
            ));
        }
    }
    None
}

/// One pause is longer than the rest of the log.
pub(super) fn set_on(found: &Found) -> Option<String> {
    let time_s = &found.trace.time_s;
    let (first_s, last_s) = (*time_s.first()?, *time_s.last()?);
    let (k, pause_s) =
        time_s.windows(2).map(|w| w[1] - w[0]).enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    // Three samples have such a pause by chance.
    (pause_s > last_s - first_s - pause_s && time_s.len() > 2 * ROWS).then(|| {
        format!(
            "a pause of {} after row {} is longer than all else in the log: the clock was set on, or two logs were \
             joined; split the log",
            duration(pause_s),
            found.trace.log_index[k] + 1
        )
    })
}

fn duration(s: f64) -> String {
    if s < 100.0 { format!("{s:.1} s") } else { format!("{s:.0} s") }
}

//! Orders of treatments in which every treatment stands at every place equally often, and follows every other one
//! equally often (Williams 1949, Aust. J. Sci. Res. A 2, 149).

/// One row per sequence: as many as there are treatments, or twice as many if their number is odd.
pub(super) fn williams(treatments: usize) -> Vec<Vec<usize>> {
    // 0, 1, n - 1, 2, n - 2, ...: neighbours differ by every step once.
    let first: Vec<usize> = (0..treatments)
        .map(|k| if k % 2 == 1 { k.div_ceil(2) } else { (treatments - k / 2) % treatments })
        .collect();
    let turned = |by: usize| first.iter().map(|x| (x + by) % treatments).collect::<Vec<_>>();
    let mut rows: Vec<Vec<usize>> = (0..treatments).map(turned).collect();
    if treatments % 2 == 1 {
        let back: Vec<Vec<usize>> = rows.iter().map(|row| row.iter().rev().copied().collect()).collect();
        rows.extend(back);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_treatment_stands_at_every_place_and_follows_every_other_one_equally_often() {
        for n in 2..=9 {
            let rows = williams(n);
            let times = rows.len() / n;
            let (mut places, mut pairs) = (vec![0; n * n], vec![0; n * n]);
            for row in &rows {
                row.iter().enumerate().for_each(|(place, x)| places[place * n + x] += 1);
                row.windows(2).for_each(|pair| pairs[pair[0] * n + pair[1]] += 1);
            }
            assert!(places.iter().all(|count| *count == times), "{n}: {places:?}");
            let fits = |(k, count): (usize, &usize)| *count == if k / n == k % n { 0 } else { times };
            assert!(pairs.iter().enumerate().all(fits), "{n}: {pairs:?}");
        }
    }

    #[test]
    fn the_square_of_four_is_the_published_one() {
        // Williams's square of four in its standard form, as textbooks of crossover trials print it; from memory.
        let letters = |row: &[usize]| row.iter().map(|&x| char::from(b'A' + x as u8)).collect::<String>();
        let found: Vec<String> = williams(4).iter().map(|row| letters(row)).collect();
        assert_eq!(found, ["ABDC", "BCAD", "CDBA", "DACB"]);
    }
}

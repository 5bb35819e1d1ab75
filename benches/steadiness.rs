//! probe
#[path = "../tests/instruments/mod.rs"]
mod instruments;
use instruments::*;
fn main() {
    let n: u64 = std::env::args().filter_map(|a| a.parse().ok()).next().unwrap_or(10);
    for tremor in [0.12] {
        let mut tot = [(0, 0, 0, 0); 3];
        for i in instruments() {
            print!("{tremor} {:4} Hz {:5} g {:5} g ", i.rate_hz, i.step_g, i.noise_sd_g);
            for (f, form) in FORMS.iter().enumerate() {
                let r = many(i, *form, tremor, 0..n);
                let d: Vec<_> = r
                    .iter()
                    .filter_map(|r| r.found.as_ref().ok().map(|e| (e.value - r.truth, e.sd)))
                    .collect();
                let k = d.len().max(1) as f64;
                let ok = d.iter().filter(|x| x.0.abs() <= 2.0 * x.1).count();
                let hold = r.iter().filter(|r| r.holds()).count();
                tot[f].0 += r.len();
                tot[f].1 += d.len();
                tot[f].2 += ok;
                tot[f].3 += hold;
                print!(
                    "| {:3}/{:3} bias {:+.4} mae {:.4} cov {:.3} hold {:.3} ",
                    d.len(),
                    r.len(),
                    d.iter().map(|x| x.0).sum::<f64>() / k,
                    d.iter().map(|x| x.0.abs()).sum::<f64>() / k,
                    ok as f64 / k,
                    hold as f64 / r.len() as f64
                );
            }
            println!();
        }
        for t in tot {
            println!(
                "   total {} defined {} cover {:.3} holds {:.3}",
                t.0,
                t.1,
                t.2 as f64 / t.1 as f64,
                t.3 as f64 / t.0 as f64
            );
        }
    }
}

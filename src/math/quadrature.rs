//! In: a function and two ends. Out: its integral.
//!
//! Gauss and Legendre with 12 nodes, halved if the halves disagree with the whole (Davis and Rabinowitz 1984, Methods
//! of Numerical Integration, chapter 6).

/// Positive nodes and their weights.
const NODES: [(f64, f64); 6] = [
    (0.1252334085114689, 0.2491470458134027),
    (0.3678314989981802, 0.2334925365383546),
    (0.5873179542866175, 0.20316742672306573),
    (0.7699026741943047, 0.16007832854334642),
    (0.9041172563704748, 0.10693932599531907),
    (0.9815606342467192, 0.04717533638651141),
];
const MOST_HALVINGS: usize = 18;

/// The integral by 12 nodes.
pub(crate) fn panel(f: &impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let (middle, half) = (f64::midpoint(low, high), 0.5 * (high - low));
    half * NODES.iter().map(|(x, w)| w * (f(middle - half * x) + f(middle + half * x))).sum::<f64>()
}

/// The integral, halved until no panel moves by more than `tolerance`, which must lie well above the rounding of `f`.
pub(crate) fn integral(f: &impl Fn(f64) -> f64, low: f64, high: f64, tolerance: f64) -> f64 {
    halved(f, low, high, panel(f, low, high), tolerance, MOST_HALVINGS)
}

fn halved(f: &impl Fn(f64) -> f64, low: f64, high: f64, whole: f64, tolerance: f64, left: usize) -> f64 {
    let middle = f64::midpoint(low, high);
    let halves = [panel(f, low, middle), panel(f, middle, high)];
    let sum = halves[0] + halves[1];
    if left == 0 || (sum - whole).abs() <= tolerance || !sum.is_finite() {
        return sum;
    }
    halved(f, low, middle, halves[0], tolerance, left - 1)
        + halved(f, middle, high, halves[1], tolerance, left - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrals_known_in_closed_form_are_found() {
        // By hand: the error function's limit, a polynomial of degree 23 that 12 nodes integrate exactly, a narrow
        // bell.
        let bell = |width: f64| move |x: f64| (-(x / width).powi(2)).exp();
        let root_pi = std::f64::consts::PI.sqrt();
        assert!((integral(&bell(1.0), -9.0, 9.0, 1e-13) - root_pi).abs() < 1e-12);
        assert!((panel(&|x: f64| x.powi(22), -1.0, 1.0) - 2.0 / 23.0).abs() < 1e-15);
        assert!((integral(&bell(1e-3), -0.9, 1.0, 1e-13) - 1e-3 * root_pi).abs() < 1e-13);
    }
}

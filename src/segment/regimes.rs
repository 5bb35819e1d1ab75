//! In: a pour, its curves, and the changes of its flow's level. Out: the stretches between the changes.

use crate::estimate::Estimate;
use crate::rows::{columns, push};
use crate::segment::curve::Curve;
use crate::segment::fitted::Fit;
use crate::segment::posterior::{Drawn, Read};
use crate::segment::pour::{FlowRegime, Pour, Segments};
use crate::table::{Table, Values};

columns! {
    /// Place of the stretch in its pour, from 1.
    regime {},
}

impl Segments {
    /// One row per stretch of different flow: the place of its pour and its own, its numbers with their sd.
    #[must_use]
    pub fn regimes(&self) -> Table {
        let mut table = Table::default();
        let all = || {
            self.pours
                .iter()
                .enumerate()
                .flat_map(|(p, pour)| (0..pour.flow_regimes.len()).map(move |k| (p, k)))
        };
        table.push("pour", "", Values::Whole(all().map(|(p, _)| p as i64 + 1).collect()));
        table.push("regime", "", Values::Whole(all().map(|(_, k)| k as i64 + 1).collect()));
        let regimes: Vec<FlowRegime> = self.pours.iter().flat_map(|pour| pour.flow_regimes.clone()).collect();
        push(&mut table, &regimes);
        table
    }
}

/// The flow of a stretch leaves out this much at each end, s, and of a short stretch at most a quarter.
const INSET_S: f64 = 0.5;

/// Floor of the relative sd of a mean flow away from the edges, for what the model leaves out.
pub(crate) const LEVEL_SD: f64 = 0.001;

/// A pour in which the level of the flow may change.
pub(crate) struct Changing<'a> {
    pub fit: &'a Fit,
    pub group: usize,
    /// Curves that hold the pour.
    pub drawn: &'a [Drawn],
}

/// One stretch on one curve.
struct Stretch {
    from_s: f64,
    to_s: f64,
    mass_g: f64,
    flow_g_per_s: f64,
}

impl Stretch {
    fn new(curve: &Curve, from_s: f64, to_s: f64) -> Option<Self> {
        let inset_s = INSET_S.min(0.25 * (to_s - from_s));
        let (inner_from_s, inner_to_s) = (from_s + inset_s, to_s - inset_s);
        let flow_g_per_s = curve.water_g(inner_from_s, inner_to_s) / (inner_to_s - inner_from_s);
        (to_s > from_s).then(|| Self { from_s, to_s, mass_g: curve.water_g(from_s, to_s), flow_g_per_s })
    }
}

impl Changing<'_> {
    /// Burst and index of each change within the pour, at the posterior mode.
    fn changes(&self, pour: &Pour) -> Vec<(usize, usize)> {
        // A change nearer to an edge belongs to its ramp.
        let within = pour.start_s.value + INSET_S..pour.end_s.value - INSET_S;
        let bursts = self.fit.groups[self.group].bursts.iter().enumerate();
        bursts
            .flat_map(|(b, burst)| {
                burst.changes.iter().enumerate().map(move |(c, change)| (b, c, change.at_s))
            })
            .filter(|(_, _, at_s)| within.contains(at_s))
            .map(|(b, c, _)| (b, c))
            .collect()
    }

    /// The stretches of a pour. `edges` gives the pour's edges on a curve, `widened` an instant with the floor of its sd.
    pub(crate) fn regimes(
        &self,
        pour: &Pour,
        edges: &dyn Fn(&Curve) -> Option<(f64, f64)>,
        widened: &dyn Fn(Estimate) -> Estimate,
    ) -> Vec<FlowRegime> {
        let changes = self.changes(pour);
        let at_s = |draw: usize, &(b, c): &(usize, usize)| {
            self.fit.draws.get(draw)?.bursts.get(self.group)?.get(b)?.changes.get(c).map(|change| change.at_s)
        };
        let read = Read::new(self.drawn, |draw, curve| {
            let (start_s, end_s) = edges(curve)?;
            let inner: Option<Vec<f64>> = changes.iter().map(|change| at_s(draw, change)).collect();
            let inner = inner?.into_iter().map(|at_s| at_s.clamp(start_s, end_s));
            let bounds: Vec<f64> = std::iter::once(start_s).chain(inner).chain([end_s]).collect();
            Some(bounds.windows(2).map(|two| Stretch::new(curve, two[0], two[1])).collect::<Vec<_>>())
        });
        let regime = |k: usize| {
            let number = |of: fn(&Stretch) -> f64| read.extreme(|all| all.get(k)?.as_ref().map(of), "").ok();
            let start_s = if k == 0 { pour.start_s } else { widened(number(|s| s.from_s)?) };
            let end_s = if k == changes.len() { pour.end_s } else { widened(number(|s| s.to_s)?) };
            Some(FlowRegime {
                start_s,
                end_s,
                mass_g: number(|s| s.mass_g)?,
                flow_g_per_s: number(|s| s.flow_g_per_s)
                    .map(|e| Estimate::new(e.value, e.sd.hypot(LEVEL_SD * e.value)))?,
            })
        };
        let mut all: Vec<FlowRegime> = (0..=changes.len()).filter_map(regime).collect();
        match all.as_mut_slice() {
            [one] if changes.is_empty() => one.mass_g = pour.mass_g,
            regimes if regimes.len() == changes.len() + 1 => {}
            _ => return pour.one_regime(),
        }
        all
    }
}

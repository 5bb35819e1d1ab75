//! In: a flow and what is known of spout, height and water. Out: the stream where it meets the bed.

use crate::agitation::break_up::{Arrival, arrival, break_up};
use crate::agitation::height::from_lead;
use crate::agitation::known::{G_M_PER_S2, Graded, Known, Liquid, neither};
use crate::agitation::rayleigh::drop_widths;
use crate::error::Error;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Places of the slopes.
const FLOW: usize = 0;
const BORE: usize = 1;
const HEIGHT: usize = 2;
const LEAD: usize = 3;
type Sure<T> = Result<T, Undefined>;

/// What limits every row of the agitation.
macro_rules! proxy {
    ($($before:literal)?) => {
        concat!($($before, "; ",)? "an ordinal proxy: it puts pours in an order and no more")
    };
}
pub(super) use proxy;

pub(super) const STREAM: &str = proxy!("the stream fills the spout's mouth and falls steeply");
/// The abstract names such a correlation; the formula was not held against the text.
pub(super) const BREAK_UP: &str =
    "Grant and Middleman 1966, Newtonian jet stability, doi 10.1002/aic.690120411";

rows! { $
/// A stream from the spout to the bed: what it brings are ordinal proxies for what it does to the bed.
///
/// - measures: how fast, how wide and how whole the stream arrives, and what it brings; ordinal proxies for what it does to the bed
/// - formula: spout speed `v0 = 4 Q/(pi d0^2)`, speed at the bed `v = sqrt(v0^2 + 2 g H)`, width there `d = d0 sqrt(v0/v)`,
///   `Re = rho v d/mu`, `We = rho v^2 d/sigma`; force `M' v`, power `M' v^2/2` with the mass flow `M'`
/// - needs: the bore and the height, or the force on the scale; the water's temperature for all that depends on its density
/// - valid when: the stream fills the spout's mouth, the air does not brake it, and it falls as water of the stated temperature; a mouth
///   that is not filled makes `v0` too small, which hardly matters to `v` from 10 cm on
/// - reference: Torricelli's law and the balances of mass, momentum and energy; water by IAPWS
///
/// ```
/// use pourline::{Arrival, Estimate, Stream};
/// // 5 mL/s at 93 C from a spout of 6 mm, 20 cm over the bed, give or take 2 cm.
/// let flow = Estimate::exact(5.0 * 0.963_271);
/// let stream = Stream::falling(flow, Estimate::exact(0.006), Estimate::new(0.2, 0.02), 93.0)?;
/// let speed = stream.speed_m_per_s.unwrap();
/// assert!((speed.value - 1.9884).abs() < 1e-4 && (speed.sd - 0.0986).abs() < 1e-3);
/// assert_eq!(stream.arrival, Ok(Arrival::MayBeBroken));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stream {
    /// Height of the fall, as stated or from the stream's force on the scale, m.
    pub fall_height_m: Maybe {
        formula: "as stated; or (g^2 c^2 - v0^2)/(2 g) with the lead c of the reading",
        valid: "the log shows the force of the stream at least ten sd clear, or the height is stated",
        reference: "balance of momentum",
    },
    /// Time of the fall, s.
    pub fall_s: Maybe,
    /// Speed at the spout, m/s.
    pub spout_speed_m_per_s: Maybe,
    /// Speed of the stream at the bed, m/s.
    pub speed_m_per_s: Maybe {
        name: "stream_speed_m_per_s",
        formula: "sqrt(v0^2 + 2 g H), v0 = 4 Q/(pi d0^2)",
        valid: STREAM,
        reference: "Torricelli's law",
    },
    /// Width of the stream at the bed, as long as it is whole, mm.
    pub width_mm: Maybe {
        name: "stream_width_mm",
        formula: "d0 sqrt(v0/v)",
        valid: STREAM,
        reference: "balance of mass",
    },
    /// The Reynolds number of the stream at the bed.
    pub reynolds: Maybe {
        formula: "rho v d/mu",
        valid: STREAM,
        reference: "definition; water by IAPWS",
    },
    /// The Weber number of the stream at the bed.
    pub weber: Maybe {
        formula: "rho v^2 d/sigma",
        valid: STREAM,
        reference: "definition; water by IAPWS",
    },
    /// Length at which such a stream breaks up, good to a factor of 1.5 at best, m.
    pub break_up_m: Maybe,
    /// Whether the stream likely arrives unbroken: a band, no verdict.
    ///
    /// `likely_unbroken`, `may_be_broken` or `likely_broken`.
    pub arrival: Result<Arrival, Undefined> {
        formula: "break-up length against the fall, a factor of 1.5 to either side",
        valid: STREAM,
        reference: BREAK_UP,
    },
    /// Width of the drops that it breaks into, if it does, mm.
    pub drop_mm: Maybe,
    /// Force of the stream on the bed, N.
    pub force_n: Maybe {
        formula: "mass flow times v",
        valid: STREAM,
        reference: "balance of momentum",
    },
    /// Power that the stream brings, W.
    pub power_w: Maybe {
        formula: "mass flow times v^2/2",
        valid: STREAM,
        reference: "balance of energy",
    },
    /// Water between spout and bed, g.
    pub in_flight_g: Maybe,
    /// By how much its force makes a scale read more than has landed, g.
    pub pressed_g: Maybe,
}
}

impl Stream {
    /// The stream that leaves a spout of that bore and falls from that height.
    ///
    /// # Errors
    /// `out_of_range` for a flow, bore or height that is not above 0, an sd below 0, or a temperature at which water is not liquid.
    pub fn falling(
        flow_g_per_s: Estimate,
        spout_bore_m: Estimate,
        fall_height_m: Estimate,
        water_c: f64,
    ) -> crate::error::Result<Self> {
        let given = [
            ("flow_g_per_s", flow_g_per_s),
            ("spout_bore_m", spout_bore_m),
            ("fall_height_m", fall_height_m),
        ];
        for (name, Estimate { value, sd }) in given {
            if !(value > 0.0 && value.is_finite() && sd >= 0.0 && sd.is_finite()) {
                let rule = "it must be above 0, and its sd 0 or more".into();
                return Err(Error::OutOfRange { name: name.into(), value, rule, row: 0 });
            }
        }
        let none = || Undefined::because("not asked for");
        let known = Known {
            bore_m: Ok(spout_bore_m),
            height_m: Ok(fall_height_m),
            lead_s: Err(none()),
            water: Ok(Liquid::at(water_c)?),
            dose_g: Err(none()),
        };
        Ok(Self::new(Ok(flow_g_per_s), &known))
    }

    /// The stream of that flow.
    pub(super) fn new(flow_g_per_s: Maybe, known: &Known) -> Self {
        let fall = Fall { flow_g_per_s, known };
        let (height, speed, width) = (fall.height(), fall.speed(), fall.width());
        let (weber, reynolds) = (fall.weber(), fall.reynolds());
        let (length, time) = (fall.break_up(), fall.time());
        let kg_per_s = fall.flow().map(|q| q.times(1e-3));
        let both = |a: &Sure<Graded>, b: &Sure<Graded>| Ok::<_, Undefined>((a.clone()?, b.clone()?));
        let force = both(&kg_per_s, &speed).map(|(m, v)| m * v);
        let power = both(&force, &speed).map(|(f, v)| (f * v).times(0.5));
        let in_flight = both(&kg_per_s, &time).map(|(m, t)| (m * t).times(1e3));
        let told = |number: Sure<Graded>| number.map(|n| fall.estimate(n));
        Self {
            fall_height_m: told(height.clone()),
            fall_s: told(time),
            spout_speed_m_per_s: told(fall.spout_speed()),
            speed_m_per_s: told(speed),
            width_mm: told(width.clone().map(|d| d.times(1e3))),
            reynolds: told(reynolds),
            weber: told(weber),
            arrival: both(&height, &length).map(|(h, l)| arrival(fall.estimate(h), fall.estimate(l))),
            break_up_m: told(length),
            drop_mm: told(width.map(|d| d.times(1e3 * drop_widths()))),
            pressed_g: told(force.clone().map(|f| f.times(1e3 / G_M_PER_S2))),
            force_n: told(force),
            power_w: told(power),
            in_flight_g: told(in_flight),
        }
    }
}

/// A flow with what is known beside it.
struct Fall<'a> {
    flow_g_per_s: Maybe,
    known: &'a Known,
}

impl Fall<'_> {
    /// To first order, flow, bore, height and lead being independent.
    fn estimate(&self, number: Graded) -> Estimate {
        let Known { bore_m, height_m, lead_s, .. } = self.known;
        let sd = [&self.flow_g_per_s, bore_m, height_m, lead_s].map(|n| n.as_ref().map_or(0.0, |e| e.sd));
        Estimate::new(number.value, number.sd(sd))
    }

    fn flow(&self) -> Sure<Graded> {
        Ok(Graded::input(self.flow_g_per_s.clone()?.value, FLOW))
    }

    fn bore(&self) -> Sure<Graded> {
        Ok(Graded::input(self.known.bore_m.clone()?.value, BORE))
    }

    fn lead(&self) -> Sure<Graded> {
        Ok(Graded::input(self.known.lead_s.clone()?.value, LEAD))
    }

    fn stated_height(&self) -> Sure<Graded> {
        Ok(Graded::input(self.known.height_m.clone()?.value, HEIGHT))
    }

    /// Flow by volume, m3/s.
    fn volume(&self) -> Sure<Graded> {
        Ok(self.flow()?.times(1e-3 / self.known.water.clone()?.density_kg_per_m3))
    }

    fn spout_speed(&self) -> Sure<Graded> {
        let bore = self.bore()?;
        Ok(self.volume()?.times(4.0 / PI) / (bore * bore))
    }

    /// By what is stated, and where that is not enough by the force on the scale.
    fn speed(&self) -> Sure<Graded> {
        let stated = self.stated_height().and_then(|height| {
            let spout = self.spout_speed()?;
            Ok((spout * spout + height.times(2.0 * G_M_PER_S2)).power(0.5))
        });
        stated.or_else(|why| match self.lead() {
            Ok(lead) => Ok(lead.times(G_M_PER_S2)),
            Err(untold) => Err(neither(&why, &untold)),
        })
    }

    fn height(&self) -> Sure<Graded> {
        self.stated_height().or_else(|why| match self.lead() {
            Ok(lead) => from_lead(lead, self.spout_speed()?),
            Err(untold) => Err(neither(&why, &untold)),
        })
    }

    fn time(&self) -> Sure<Graded> {
        Ok((self.speed()? - self.spout_speed()?).times(1.0 / G_M_PER_S2))
    }

    /// What is left of the bore where the stream is that fast: the same water passes every height.
    fn width(&self) -> Sure<Graded> {
        Ok((self.volume()?.times(4.0 / PI) / self.speed()?).power(0.5))
    }

    fn reynolds(&self) -> Sure<Graded> {
        let Liquid { density_kg_per_m3, viscosity_pa_s, .. } = self.known.water.clone()?;
        Ok((self.speed()? * self.width()?).times(density_kg_per_m3 / viscosity_pa_s))
    }

    fn weber(&self) -> Sure<Graded> {
        let Liquid { density_kg_per_m3, tension_n_per_m, .. } = self.known.water.clone()?;
        let speed = self.speed()?;
        Ok((speed * speed * self.width()?).times(density_kg_per_m3 / tension_n_per_m))
    }

    fn break_up(&self) -> Sure<Graded> {
        Ok(break_up(self.width()?, self.weber()?, self.reynolds()?))
    }
}

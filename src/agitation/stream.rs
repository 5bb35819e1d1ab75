//! In: a flow and the known quantities of spout, height and water. Out: the stream at the bed.

use crate::agitation::break_up::{Arrival, arrival, break_up};
use crate::agitation::height::from_lead;
use crate::agitation::known::{G_M_PER_S2, Graded, Known, Liquid, neither};
use crate::agitation::rayleigh::drop_widths;
use crate::error::Error;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Indices of the partial derivatives.
const FLOW: usize = 0;
const BORE: usize = 1;
const HEIGHT: usize = 2;
const LEAD: usize = 3;
type Defined<T> = Result<T, Undefined>;

/// The limit of every row of the agitation.
macro_rules! proxy {
    ($($before:literal)?) => {
        concat!($($before, "; ",)? "an ordinal proxy: it only orders pours")
    };
}
pub(super) use proxy;

pub(super) const STREAM: &str = proxy!("the stream fills the spout's mouth and falls steeply");
/// The abstract names such a correlation; the formula was not checked against the text.
pub(super) const BREAK_UP: &str =
    "Grant and Middleman 1966, Newtonian jet stability, doi 10.1002/aic.690120411";

rows! { $
/// A stream from the spout to the bed: its quantities there are ordinal proxies for agitation.
///
/// - measures: speed, width, break-up, force and energy of the stream at the bed; ordinal proxies for agitation
/// - formula: spout speed `v0 = 4 Q/(pi d0^2)`, speed at the bed `v = sqrt(v0^2 + 2 g H)`, width there `d = d0
///   sqrt(v0/v)`, `Re = rho v d/mu`, `We = rho v^2 d/sigma`; force `M' v`, power `M' v^2/2` with the mass flow `M'`
/// - needs: the bore and the height, or the force on the scale; the water's temperature for quantities that depend on
///   its density
/// - valid when: the stream fills the spout's mouth, drag is negligible, and the water has the stated temperature; a
///   partly filled mouth makes `v0` too small, which hardly affects `v` from 10 cm on
/// - reference: Torricelli's law and the balances of mass, momentum and energy; water by IAPWS
///
/// ```
/// use pourline::{Arrival, Estimate, Stream};
/// // 5 mL/s at 93 C from a spout of 6 mm, 20 cm over the bed with an sd of 2 cm.
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
        valid: "the force of the stream is at least ten sd above 0, or the height is stated",
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
    /// Width of the stream at the bed if it is unbroken, mm.
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
    /// Break-up length of the stream, uncertain by a factor of at least 1.5, m.
    pub break_up_m: Maybe,
    /// Whether the stream likely arrives unbroken, by a band around the break-up length.
    ///
    /// `likely_unbroken`, `may_be_broken` or `likely_broken`.
    pub arrival: Result<Arrival, Undefined> {
        formula: "fall compared with the break-up length, a factor of 1.5 to either side",
        valid: STREAM,
        reference: BREAK_UP,
    },
    /// Width of the drops if the stream breaks up, mm.
    pub drop_mm: Maybe,
    /// Force of the stream on the bed, N.
    pub force_n: Maybe {
        formula: "mass flow times v",
        valid: STREAM,
        reference: "balance of momentum",
    },
    /// Power of the stream at the bed, W.
    pub power_w: Maybe {
        formula: "mass flow times v^2/2",
        valid: STREAM,
        reference: "balance of energy",
    },
    /// Water between spout and bed, g.
    pub in_flight_g: Maybe,
    /// Reading of the stream's force on the scale, beyond the landed mass, g.
    pub pressed_g: Maybe,
}
}

impl Stream {
    /// The stream that leaves a spout of that bore and falls from that height.
    ///
    /// # Errors
    /// `out_of_range` for a flow, bore or height that is not above 0, an sd below 0, or a temperature at which water is
    /// not liquid.
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
        let none = || Undefined::because("not needed");
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
        let both = |a: &Defined<Graded>, b: &Defined<Graded>| Ok::<_, Undefined>((a.clone()?, b.clone()?));
        let force = both(&kg_per_s, &speed).map(|(m, v)| m * v);
        let power = both(&force, &speed).map(|(f, v)| (f * v).times(0.5));
        let in_flight = both(&kg_per_s, &time).map(|(m, t)| (m * t).times(1e3));
        let shown = |number: Defined<Graded>| number.map(|n| fall.estimate(n));
        Self {
            fall_height_m: shown(height.clone()),
            fall_s: shown(time),
            spout_speed_m_per_s: shown(fall.spout_speed()),
            speed_m_per_s: shown(speed),
            width_mm: shown(width.clone().map(|d| d.times(1e3))),
            reynolds: shown(reynolds),
            weber: shown(weber),
            arrival: both(&height, &length).map(|(h, l)| arrival(fall.estimate(h), fall.estimate(l))),
            break_up_m: shown(length),
            drop_mm: shown(width.map(|d| d.times(1e3 * drop_widths()))),
            pressed_g: shown(force.clone().map(|f| f.times(1e3 / G_M_PER_S2))),
            force_n: shown(force),
            power_w: shown(power),
            in_flight_g: shown(in_flight),
        }
    }
}

/// A flow with the other known quantities.
struct Fall<'a> {
    flow_g_per_s: Maybe,
    known: &'a Known,
}

impl Fall<'_> {
    /// To first order, with flow, bore, height and lead independent.
    fn estimate(&self, number: Graded) -> Estimate {
        let Known { bore_m, height_m, lead_s, .. } = self.known;
        let sd = [&self.flow_g_per_s, bore_m, height_m, lead_s].map(|n| n.as_ref().map_or(0.0, |e| e.sd));
        Estimate::new(number.value, number.sd(sd))
    }

    fn flow(&self) -> Defined<Graded> {
        Ok(Graded::input(self.flow_g_per_s.clone()?.value, FLOW))
    }

    fn bore(&self) -> Defined<Graded> {
        Ok(Graded::input(self.known.bore_m.clone()?.value, BORE))
    }

    fn lead(&self) -> Defined<Graded> {
        Ok(Graded::input(self.known.lead_s.clone()?.value, LEAD))
    }

    fn stated_height(&self) -> Defined<Graded> {
        Ok(Graded::input(self.known.height_m.clone()?.value, HEIGHT))
    }

    /// Flow by volume, m3/s.
    fn volume(&self) -> Defined<Graded> {
        Ok(self.flow()?.times(1e-3 / self.known.water.clone()?.density_kg_per_m3))
    }

    fn spout_speed(&self) -> Defined<Graded> {
        let bore = self.bore()?;
        Ok(self.volume()?.times(4.0 / PI) / (bore * bore))
    }

    /// From stated quantities, else from the force on the scale.
    fn speed(&self) -> Defined<Graded> {
        let stated = self.stated_height().and_then(|height| {
            let spout = self.spout_speed()?;
            Ok((spout * spout + height.times(2.0 * G_M_PER_S2)).power(0.5))
        });
        stated.or_else(|why| match self.lead() {
            Ok(lead) => Ok(lead.times(G_M_PER_S2)),
            Err(no_lead) => Err(neither(&why, &no_lead)),
        })
    }

    fn height(&self) -> Defined<Graded> {
        self.stated_height().or_else(|why| match self.lead() {
            Ok(lead) => from_lead(lead, self.spout_speed()?),
            Err(no_lead) => Err(neither(&why, &no_lead)),
        })
    }

    fn time(&self) -> Defined<Graded> {
        Ok((self.speed()? - self.spout_speed()?).times(1.0 / G_M_PER_S2))
    }

    /// Width by continuity: the volume flow is equal at every height.
    fn width(&self) -> Defined<Graded> {
        Ok((self.volume()?.times(4.0 / PI) / self.speed()?).power(0.5))
    }

    fn reynolds(&self) -> Defined<Graded> {
        let Liquid { density_kg_per_m3, viscosity_pa_s, .. } = self.known.water.clone()?;
        Ok((self.speed()? * self.width()?).times(density_kg_per_m3 / viscosity_pa_s))
    }

    fn weber(&self) -> Defined<Graded> {
        let Liquid { density_kg_per_m3, tension_n_per_m, .. } = self.known.water.clone()?;
        let speed = self.speed()?;
        Ok((speed * speed * self.width()?).times(density_kg_per_m3 / tension_n_per_m))
    }

    fn break_up(&self) -> Defined<Graded> {
        Ok(break_up(self.width()?, self.weber()?, self.reynolds()?))
    }
}

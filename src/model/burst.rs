//! In: the edges of a burst. Out: the fraction of its flow that arrives at each instant.
//!
//! A burst is a stretch in which water arrives without a pause. Its flow is a random function of time ([`Hand`]),
//! multiplied by a rise and a fall. At a change, the level of that function is drawn again.
//!
//! [`Hand`]: crate::model::hand::Hand

use serde::{Deserialize, Serialize};

/// A rise or a fall of the flow. Its rate of change is a straight line in time, so that it may be quick first or last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Edge {
    /// Centroid of the change of flow, s.
    pub at_s: f64,
    /// Length, s.
    pub ramp_s: f64,
    /// Skewness on an unlimited scale: below 0 it is quick first.
    pub skew: f64,
}

/// A change of the flow's level within a burst.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Change {
    /// Middle, s.
    pub at_s: f64,
    /// Length, s.
    pub ramp_s: f64,
}

/// The edges of one burst.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Burst {
    pub rise: Edge,
    pub fall: Edge,
    /// Changes in order of time.
    pub changes: Vec<Change>,
    /// Scale of the flow, g/s: the mass of the readings over the duration.
    pub scale_g_per_s: f64,
}

impl Edge {
    /// Skewness of the rate of change, -1 to 1.
    fn tilt(&self) -> f64 {
        self.skew / (1.0 + self.skew * self.skew).sqrt()
    }

    pub(crate) fn start_s(&self) -> f64 {
        self.at_s - self.ramp_s * (0.5 + self.tilt() / 6.0)
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.start_s() + self.ramp_s
    }
}

impl Change {
    /// Mean over an interval of the share of the change that is done.
    pub(crate) fn share(&self, from_s: f64, to_s: f64) -> f64 {
        let ramp = Ramp { at_s: self.at_s, ramp_s: self.ramp_s, tilt: 0.0 };
        ramp.done(from_s, to_s) / (to_s - from_s)
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.at_s + 0.5 * self.ramp_s
    }
}

impl Burst {
    pub(crate) fn start_s(&self) -> f64 {
        self.rise.start_s()
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.fall.end_s()
    }

    pub(crate) fn middle_s(&self) -> f64 {
        f64::midpoint(self.rise.at_s, self.fall.at_s)
    }

    /// Mean over an interval of the fraction of the flow that arrives.
    pub(crate) fn fraction(&self, from_s: f64, to_s: f64) -> f64 {
        Shape::new(self).fraction(from_s, to_s)
    }
}

/// An edge as it is evaluated.
#[derive(Debug, Clone, Copy)]
struct Ramp {
    at_s: f64,
    ramp_s: f64,
    tilt: f64,
}

impl Ramp {
    fn new(e: &Edge) -> Self {
        Self { at_s: e.at_s, ramp_s: e.ramp_s, tilt: e.tilt() }
    }

    fn start_s(&self) -> f64 {
        self.at_s - self.ramp_s * (0.5 + self.tilt / 6.0)
    }

    /// Integral over time of the share of the change that is done.
    fn integral(&self, t_s: f64) -> f64 {
        let y = (t_s - self.at_s) / self.ramp_s + 0.5 + self.tilt / 6.0;
        if y <= 0.0 {
            0.0
        } else if y < 1.0 {
            self.ramp_s * y * y * (0.5 + self.tilt * (y / 3.0 - 0.5))
        } else {
            t_s - self.at_s
        }
    }

    /// Its increase over an interval.
    fn done(&self, from_s: f64, to_s: f64) -> f64 {
        self.integral(to_s) - self.integral(from_s)
    }
}

/// A burst as it is evaluated.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shape {
    rise: Ramp,
    fall: Ramp,
    pub start_s: f64,
    /// End of the rise and start of the fall.
    pub full_s: f64,
    pub falls_s: f64,
    pub end_s: f64,
    middle_s: f64,
    position_per_s: f64,
}

impl Shape {
    pub(crate) fn new(b: &Burst) -> Self {
        let (rise, fall) = (Ramp::new(&b.rise), Ramp::new(&b.fall));
        let (start_s, falls_s) = (rise.start_s(), fall.start_s());
        let end_s = falls_s + fall.ramp_s;
        Self {
            rise,
            fall,
            start_s,
            full_s: start_s + rise.ramp_s,
            falls_s,
            end_s,
            middle_s: f64::midpoint(start_s, end_s),
            position_per_s: 2.0 / (end_s - start_s),
        }
    }

    /// Mean over an interval of the fraction of the flow that arrives.
    pub(crate) fn fraction(&self, from_s: f64, to_s: f64) -> f64 {
        let passed = self.rise.done(from_s, to_s) - self.fall.done(from_s, to_s);
        (passed / (to_s - from_s)).max(0.0)
    }

    /// Position of an instant in the burst, from -1 at its start to 1 at its end.
    pub(crate) fn position(&self, t_s: f64) -> f64 {
        ((t_s - self.middle_s) * self.position_per_s).clamp(-1.5, 1.5)
    }

    /// Change of the position within the burst over a time.
    pub(crate) fn position_by(&self, dt_s: f64) -> f64 {
        dt_s * self.position_per_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_water_of_a_burst_is_its_flow_times_the_distance_of_its_centroids() {
        // The integral of rise less fall is the distance of their centroids, whatever their shape.
        for skew in [-3.0, 0.0, 0.7] {
            let rise = Edge { at_s: 2.0, ramp_s: 0.5, skew };
            let fall = Edge { at_s: 9.0, ramp_s: 0.8, skew: -skew };
            let burst = Burst { rise, fall, changes: Vec::new(), scale_g_per_s: 6.0 };
            let shape = Shape::new(&burst);
            assert!((shape.fraction(0.0, 20.0) * 20.0 - 7.0).abs() < 1e-12);
            assert!((shape.fraction(4.0, 6.0) - 1.0).abs() < 1e-12);
            assert!(shape.fraction(0.0, burst.start_s()).abs() < 1e-12);
            assert!((shape.position(burst.end_s()) - 1.0).abs() < 1e-12);
        }
    }
}

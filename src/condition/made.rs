//! In: packets, and their regular instants if there are any. Out: the times of their readings, with variances.

use crate::condition::regular::{Packet, Regular};
use crate::math::robust::{median, quantile};

/// Largest interval within a packet, in usual ones, if no regular instants are known.
const MOST_SPREAD: f64 = 1.5;

/// Times while they are collected.
#[derive(Debug, Default)]
pub(super) struct Made {
    pub time_s: Vec<f64>,
    pub repeats: Vec<bool>,
    pub variances: Vec<f64>,
    pub absent: usize,
    /// Whether times are spread, not regular.
    pub spread: bool,
}

impl Made {
    pub fn push(&mut self, time_s: f64, variance: f64, repeats: bool) {
        let latest = self.time_s.last().copied().unwrap_or(f64::NEG_INFINITY);
        self.time_s.push(time_s.max(latest));
        self.variances.push(variance);
        self.repeats.push(repeats);
    }

    /// Regular instants; a packet whose readings are not all there has its last ones.
    pub fn place(&mut self, packets: &[Packet], regular: &Regular) {
        let mut delays = regular.delays_s(packets);
        // Among delays longer than a period, an absent reading is not told from a late one.
        let beyond = (quantile(&mut delays, 0.9) / regular.period_s - 1.0).clamp(0.0, 1.0);
        let is_whole = regular.placed.iter().all(|p| p.absent == 0);
        let number_sd_s = if is_whole { 0.0 } else { 0.5 * regular.period_s * beyond };
        let middle = median(&mut delays);
        delays.iter_mut().for_each(|d| *d = (*d - middle).abs());
        let phase_var = (1.5 * median(&mut delays)).powi(2) / packets.len() as f64 + number_sd_s.powi(2);
        for (b, (packet, placed)) in packets.iter().zip(&regular.placed).enumerate() {
            for before_last in (0..packet.rows).rev() {
                if placed.repeats {
                    self.push(f64::NEG_INFINITY, 0.0, true);
                } else {
                    let time_s = regular.at_s(b, placed.last as f64 - before_last as f64);
                    self.push(time_s, phase_var, false);
                }
            }
            self.absent += placed.absent as usize;
        }
    }

    /// Spreads the readings of each packet over the time since the packet before it.
    pub fn spread(&mut self, packets: &[Packet], usual_s: f64) {
        self.spread = true;
        let mut before_s = f64::NEG_INFINITY;
        for packet in packets {
            let m = packet.rows as f64;
            let each_s = ((packet.at_s - before_s) / m).min(MOST_SPREAD * usual_s);
            for j in 1..=packet.rows {
                self.push(packet.at_s - (m - j as f64) * each_s, usual_s * usual_s / 12.0, false);
            }
            before_s = packet.at_s;
        }
    }
}

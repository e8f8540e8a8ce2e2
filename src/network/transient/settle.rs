//! Fields until one repeats.

use crate::base::math::largest;
use crate::network::error::NetworkError;
use crate::network::operating_point::worst;
use crate::network::recall::Recall;
use crate::network::ripple::Ripple;
use crate::network::transient::Transient;
use crate::signal::pulse_train::PulseTrain;

impl Transient<'_> {
    /// Runs one and the same field until it repeats, then returns it with the number of fields it
    /// took. Slow states are carried ahead by the ratio of two moves in a row (Aitken).
    ///
    /// A ripple whose periods do not fit the field would never let it repeat. So while it settles
    /// the ripple is pulled to the nearest whole number of periods in a field; the field returned
    /// is one more, from there, with the ripple as it is. Contacts stay closed and sounders silent until
    /// then.
    ///
    /// # Errors
    ///
    /// [`NetworkError::NeverSettles`], or as [`Transient::advance_field`].
    pub fn settle(&mut self, trains: &[PulseTrain]) -> Result<(Vec<Vec<f32>>, u32), NetworkError> {
        if self.state.ripples.is_empty() && self.network.system.timed.is_empty() {
            return self.repeat(trains);
        }
        self.since_s = None;
        let field_s = self.field_s(trains);
        let phases: Vec<f64> = self.state.ripples.iter().map(Ripple::phase).collect();
        for ripple in &mut self.state.ripples {
            ripple.pull(field_s);
        }
        self.leave();
        let (_, fields) = self.repeat(trains)?;
        self.since_s = Some(0.0);
        for (ripple, phase) in self.state.ripples.iter_mut().zip(phases) {
            ripple.release(phase);
        }
        self.leave();
        // What was lost on states on the way here says nothing of those to come.
        self.recall.iter_mut().for_each(Recall::begin_account);
        Ok((self.advance_field(trains)?, fields + 1))
    }

    pub(super) fn field_s(&self, trains: &[PulseTrain]) -> f64 {
        let length = trains.iter().map(|train| train.length().0).max().unwrap_or(0);
        self.spec.clock.seconds(length)
    }

    /// Runs a field until it repeats.
    fn repeat(&mut self, trains: &[PulseTrain]) -> Result<(Vec<Vec<f32>>, u32), NetworkError> {
        const MOST_FIELDS: u32 = 200;
        /// Share of a move that may be left in the next field before anything is known of it.
        const UNKNOWN_RATIO: f64 = 0.98;
        const SLOWEST_RATIO: f64 = 0.9999;
        let nodes = self.network.system.nodes;
        let mut known_ratio = None;
        let mut moved: Vec<f64> = Vec::new();
        for fields in 1..=MOST_FIELDS {
            let before = self.state.x.clone();
            let samples = self.advance_field(trains)?;
            let last = std::mem::take(&mut moved);
            moved =
                self.state.x[..nodes].iter().zip(&before).map(|(now, then)| now - then).collect();
            let ratio = known_ratio.unwrap_or(UNKNOWN_RATIO);
            if largest(&moved) / (1.0 - ratio) < self.spec.tolerance_v {
                return Ok((samples, fields));
            }
            if known_ratio.is_some() && largest(&moved) > 0.5 * largest(&last) {
                // What was known no longer helps: watch two plain fields again.
                known_ratio = None;
            } else if known_ratio.is_none() && !last.is_empty() {
                known_ratio =
                    Some(share_left(&moved, &last)).filter(|left| (0.05..1.0).contains(left));
            }
            if let Some(ratio) = known_ratio {
                let ratio = ratio.min(SLOWEST_RATIO);
                self.carry_ahead(&moved, ratio / (1.0 - ratio));
                known_ratio = Some(ratio);
            }
        }
        let (worst, volts) = worst(&moved);
        let node = self.network.unknown_name(worst);
        Err(NetworkError::NeverSettles { fields: MOST_FIELDS, node, volts })
    }

    fn carry_ahead(&mut self, moved: &[f64], factor: f64) {
        let by: Vec<f64> = moved.iter().map(|moved| factor * moved).collect();
        self.shift(&by);
        self.leave();
    }
}

/// Share of the last move that is left, by least squares.
fn share_left(now: &[f64], before: &[f64]) -> f64 {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    dot(now, before) / dot(before, before).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::Tick;
    use crate::base::ticks::TickSpan;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::spec;
    use crate::signal::pulse_train::Edge;
    use crate::signal::pulse_train::Level;

    #[test]
    fn a_slow_coupling_capacitor_is_settled_in_a_few_fields() {
        // 10 uF into 10 kΩ: 100 ms, a thousand times the 100 µs field.
        let board = circuit(
            &["ground", "a", "b"],
            vec![
                pin(1, 75.0),
                PartKind::Capacitor { ends: [NodeId(1), NodeId(2)], farads: 10e-6 },
                PartKind::Resistor { ends: [NodeId(2), NodeId(0)], ohms: 10e3 },
            ],
        );
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        let spec = spec(8, 20e-6, vec![NodeId(2)]);
        let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
        let edges =
            [Edge { at: Tick(50), level: Level::HIGH }, Edge { at: Tick(100), level: Level::LOW }];
        let train = PulseTrain::new(Level::LOW, edges, TickSpan(200));
        let (samples, fields) = run.settle(&[train]).unwrap();
        let mean = samples[0].iter().map(|&v| f64::from(v)).sum::<f64>() / 1600.0;
        assert!(mean.abs() < 1e-3, "no direct voltage passes a capacitor: {mean}");
        assert!(fields < 12, "{fields}");
    }
}

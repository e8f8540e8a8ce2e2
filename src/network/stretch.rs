//! The waveform from one edge to the next.

use crate::base::math;
use crate::network::family::NUDGE_V;
use crate::network::family::Place;

/// Samples of every tap from a family's centre up to a state.
#[derive(Debug)]
pub(crate) struct Stretch {
    pub(crate) samples: Vec<Vec<f32>>,
    /// For each slow capacitor, the change of every sample with what it holds.
    pub(crate) bends: Vec<Vec<Vec<f32>>>,
    pub(crate) clocks: u64,
    /// Where it leads from the centre.
    pub(crate) end: Place,
    /// For each slow capacitor, the change of what all hold at the end with what it holds at the
    /// start.
    pub(crate) follows: Vec<Vec<f64>>,
    /// Where the taps stand from its end on, if they do.
    pub(crate) stands: Option<Vec<f32>>,
}

impl Stretch {
    /// Numbers kept.
    pub(crate) fn size(&self) -> usize {
        let taps: usize = self.samples.iter().map(Vec::len).sum();
        taps * (1 + self.bends.len())
    }

    /// Where it leads if the slow capacitors begin so far from the centre, V.
    pub(crate) fn follow(&self, moves: &[f64]) -> Place {
        let mut place = self.end.clone();
        for (follows, moved) in self.follows.iter().zip(moves) {
            for (held, share) in place.held.iter_mut().zip(follows) {
                *held += share * moved;
            }
        }
        place
    }

    /// Adds its samples to those of a field, `count` for every tap.
    pub(crate) fn copy_to(&self, field: &mut [Vec<f32>], moves: &[f64], count: usize) {
        for (tap, (volts, samples)) in field.iter_mut().zip(&self.samples).enumerate() {
            let from = volts.len();
            volts.extend_from_slice(samples);
            for (bends, &moved) in self.bends.iter().zip(moves) {
                let moved = math::to_f32(moved);
                for (volts, bend) in volts[from..].iter_mut().zip(&bends[tap]) {
                    *volts += bend * moved;
                }
            }
        }
        for (volts, &stands) in field.iter_mut().zip(self.stands.iter().flatten()) {
            let has = self.samples.first().map_or(0, Vec::len);
            volts.extend(std::iter::repeat_n(stands, count - has));
        }
    }
}

/// Change of samples with what a capacitor holds, from a nudge to either side.
pub(crate) fn slope_of(more: &[Vec<f32>], less: &[Vec<f32>]) -> Vec<Vec<f32>> {
    let per_volt = math::to_f32(0.5 / NUDGE_V);
    let slope = |(more, less): (&Vec<f32>, &Vec<f32>)| {
        more.iter().zip(less).map(|(more, less)| (more - less) * per_volt).collect()
    };
    more.iter().zip(less).map(slope).collect()
}

/// Whether samples from either side lie even about those from the centre, within so many volts.
pub(crate) fn mirrors([more, less]: [&[Vec<f32>]; 2], centre: &[Vec<f32>], within_v: f64) -> bool {
    more.iter().zip(less).zip(centre).all(|((more, less), centre)| {
        let mut all = more.iter().zip(less).zip(centre);
        all.all(|((more, less), centre)| f64::from(more + less - 2.0 * centre).abs() <= within_v)
    })
}

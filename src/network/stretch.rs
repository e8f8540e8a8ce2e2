//! The waveform from one edge to the next.

use crate::base::math;
use crate::network::family::Place;
use std::sync::Arc;

/// Samples of every tap from a family's centre up to a state.
#[derive(Debug)]
pub(crate) struct Stretch {
    pub(crate) samples: Vec<Vec<f32>>,
    /// For each slow state, the change of every sample with what it holds.
    pub(crate) bends: Arc<Vec<Vec<Vec<f32>>>>,
    pub(crate) clocks: u64,
    /// Steps that it took.
    pub(crate) steps: u64,
    /// From how many families its slopes were handed on.
    pub(crate) handed_on: u32,
    /// Where it leads from the centre.
    pub(crate) end: Place,
    /// For each slow state, the change of what all hold at the end with what it holds at the
    /// start.
    pub(crate) follows: Vec<Vec<f64>>,
    /// Where the taps stand from its end on, if they do.
    pub(crate) stands: Option<Vec<f32>>,
}

impl Stretch {
    /// Numbers kept, without those of another stretch that it shares.
    pub(crate) fn size(&self) -> usize {
        let taps: usize = self.samples.iter().map(Vec::len).sum();
        let bends = if Arc::strong_count(&self.bends) > 1 { 0 } else { self.bends.len() };
        taps * (1 + bends)
    }

    /// Where it leads if the slow states begin so far from the centre, V.
    pub(crate) fn follow(&self, moves: &[f64]) -> Place {
        let mut place = self.end.clone();
        for (follows, moved) in self.follows.iter().zip(moves) {
            for (held, share) in place.held.iter_mut().zip(follows) {
                *held += share * moved;
            }
        }
        place
    }

    /// Whether its samples are these if the slow states begin so far from the centre, V, within so many volts.
    pub(crate) fn tells(&self, moves: &[f64], samples: &[Vec<f32>], within_v: f64) -> bool {
        self.samples.iter().zip(samples).enumerate().all(|(tap, (own, samples))| {
            let mut told = own.clone();
            self.bend(tap, moves, &mut told);
            let mut pairs = told.iter().zip(samples);
            pairs.all(|(told, found)| f64::from((told - found).abs()) <= within_v)
        })
    }

    /// Adds to samples of a tap what comes of moves of the slow states, V.
    fn bend(&self, tap: usize, moves: &[f64], samples: &mut [f32]) {
        for (bends, &moved) in self.bends.iter().zip(moves) {
            let moved = math::to_f32(moved);
            for (volts, bend) in samples.iter_mut().zip(&bends[tap]) {
                *volts += bend * moved;
            }
        }
    }

    /// Adds its samples to those of a field, `count` for every tap.
    pub(crate) fn copy_to(&self, field: &mut [Vec<f32>], moves: &[f64], count: usize) {
        for (tap, (volts, samples)) in field.iter_mut().zip(&self.samples).enumerate() {
            let from = volts.len();
            volts.extend_from_slice(samples);
            self.bend(tap, moves, &mut volts[from..]);
        }
        for (volts, &stands) in field.iter_mut().zip(self.stands.iter().flatten()) {
            let has = self.samples.first().map_or(0, Vec::len);
            volts.extend(std::iter::repeat_n(stands, count - has));
        }
    }
}

/// Change of samples with what a slow state holds, from a nudge to either side.
pub(crate) fn slope_of([more, less]: [&[Vec<f32>]; 2], nudge_v: f64) -> Vec<Vec<f32>> {
    let per_volt = math::to_f32(0.5 / nudge_v);
    let slope = |(more, less): (&Vec<f32>, &Vec<f32>)| {
        more.iter().zip(less).map(|(more, less)| (more - less) * per_volt).collect()
    };
    more.iter().zip(less).map(slope).collect()
}

/// How far samples from either side miss lying even about those from the centre, V.
pub(crate) fn bend_v([more, less]: [&[Vec<f32>]; 2], centre: &[Vec<f32>]) -> f64 {
    let taps = more.iter().zip(less).zip(centre);
    let bends = taps.flat_map(|((more, less), centre)| {
        let all = more.iter().zip(less).zip(centre);
        all.map(|((more, less), centre)| (more + less - 2.0 * centre).abs())
    });
    f64::from(bends.fold(0.0, f32::max))
}

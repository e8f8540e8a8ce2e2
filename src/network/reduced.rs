//! What elimination has made of the linear parts, kept for what comes again.
//!
//! It depends on which drivers count as linear, on the states in which these stand, and on the reach of
//! a step. What comes of it is the same whether it was kept or is worked out anew, bit for bit.

use crate::network::elimination::Factors;
use crate::network::evaluation::Weights;
use crate::network::ladder;
use std::collections::HashMap;

/// A linear part with the eliminated unknowns taken out of it.
#[derive(Debug, Default)]
pub(crate) struct Reduced {
    pub(crate) factors: Factors,
    /// Whether the order of elimination serves.
    pub(crate) serves: bool,
}

/// Number of them that are kept before all are forgotten.
const MOST_KEPT: usize = 1 << 12;
/// The place of the one that is not kept.
const SCRATCH: usize = 0;

/// Those that are known.
#[derive(Debug)]
pub(crate) struct Kept {
    all: Vec<Reduced>,
    /// Number of each setting: a plan, and the states of its drivers.
    settings: HashMap<Vec<usize>, usize>,
    /// The setting of the present segment; none where a driver stands between two states.
    setting: Option<usize>,
    /// By setting and rung.
    places: HashMap<(usize, u64), usize>,
    /// The reach that was asked for last in the present segment, and its place.
    last: Option<(f64, usize)>,
}

impl Default for Kept {
    fn default() -> Self {
        Self {
            all: vec![Reduced::default()],
            settings: HashMap::new(),
            setting: None,
            places: HashMap::new(),
            last: None,
        }
    }
}

impl Kept {
    /// Begins a segment with this plan, in which the drivers that are straight stand at these weights.
    pub(crate) fn begin(&mut self, plan: usize, straight: &[bool], weights: &[Weights]) {
        let state = |(straight, weights): (&bool, &Weights)| {
            let whole = || weights.iter().position(|weight| weight.total_cmp(&1.0).is_eq());
            if *straight { whole() } else { Some(usize::MAX) }
        };
        let states: Option<Vec<usize>> =
            std::iter::once(Some(plan)).chain(straight.iter().zip(weights).map(state)).collect();
        let next = self.settings.len();
        self.setting = states.map(|states| *self.settings.entry(states).or_insert(next));
        self.last = None;
    }

    /// The place of what belongs to a reach, and whether it is still to be worked out; it is kept if
    /// the reach is a rung.
    pub(crate) fn place(&mut self, reach: f64) -> (usize, bool) {
        if let Some((last, place)) = self.last
            && last.total_cmp(&reach).is_eq()
        {
            return (place, false);
        }
        let key = self.setting.zip(ladder::rung(reach));
        let known = key.and_then(|key| self.places.get(&key).copied());
        let place = known.unwrap_or_else(|| key.map_or(SCRATCH, |key| self.room(key)));
        self.last = Some((reach, place));
        (place, known.is_none())
    }

    fn room(&mut self, key: (usize, u64)) -> usize {
        if self.all.len() >= MOST_KEPT {
            self.all.truncate(SCRATCH + 1);
            self.places.clear();
        }
        self.all.push(Reduced::default());
        self.places.insert(key, self.all.len() - 1);
        self.all.len() - 1
    }

    pub(crate) fn at(&self, place: usize) -> &Reduced {
        &self.all[place]
    }

    pub(crate) fn at_mut(&mut self, place: usize) -> &mut Reduced {
        &mut self.all[place]
    }
}

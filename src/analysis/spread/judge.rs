//! What of `[expect]` standing levels can tell.

use crate::analysis::board_levels::BoardLevels;
use crate::analysis::board_levels::BoardSolver;
use crate::analysis::check::note_word;
use crate::analysis::ladder::ElementLevel;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::expect::Bounds;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::Expected;
use crate::scenario::expect::FieldAmount;
use crate::scenario::expect::NodeState;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::ShapeAmount;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// The expectations of a scenario, those that are judged in front.
#[derive(Debug)]
pub struct Judge<'a> {
    scenario: &'a Scenario,
    judged: Vec<&'a Expected>,
    left_out: Vec<&'a Expected>,
    /// Nodes besides the socket whose levels are needed.
    taps: Vec<NodeId>,
}

impl<'a> Judge<'a> {
    /// Sorts the expectations; all are judged if boards are run in time.
    #[must_use]
    pub fn new(scenario: &'a Scenario, in_time: bool) -> Self {
        let all = scenario.expect.iter();
        let (judged, left_out): (Vec<&Expected>, Vec<&Expected>) =
            all.partition(|expected| in_time || at_rest(&expected.what));
        let mut taps = Vec::new();
        for expected in &judged {
            if let Expectation::Node(node, ..) = &expected.what
                && !taps.contains(node)
            {
                taps.push(*node);
            }
        }
        Self { scenario, judged, left_out, taps }
    }

    /// A solver of boards that finds all that is judged.
    ///
    /// # Errors
    ///
    /// The scenario's own board cannot be solved.
    pub fn solver(&self) -> Result<BoardSolver<'a>, NetworkError> {
        let solver = BoardSolver::new(self.scenario, &self.taps)?;
        let source = |expected: &&Expected| {
            matches!(expected.what, Expectation::Field(FieldAmount::Source, _))
        };
        Ok(if self.judged.iter().any(source) { solver.with_source() } else { solver })
    }

    /// Names of those that are judged.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.judged.iter().map(|expected| expected.name.as_str()).collect()
    }

    /// Names of those that are not.
    #[must_use]
    pub fn left_out(&self) -> Vec<&str> {
        self.left_out.iter().map(|expected| expected.name.as_str()).collect()
    }

    /// Whether each is met.
    #[must_use]
    pub fn met(&self, levels: &BoardLevels) -> Vec<bool> {
        self.judged.iter().map(|expected| self.margin(levels, &expected.what) >= 0.0).collect()
    }

    /// How far each lies from the middle of what is expected, in half widths of it: at most 1 is met.
    /// Words are off by nothing or by 2. A range with one end is off from that end, in twentieths of
    /// it, counted from 1 on.
    #[must_use]
    pub fn off(&self, levels: &BoardLevels) -> Vec<f64> {
        self.judged.iter().map(|expected| self.off_one(levels, &expected.what)).collect()
    }

    /// The same without what takes more than levels.
    pub(crate) fn off_but_source(&self, levels: &BoardLevels) -> Vec<f64> {
        let plain = self.judged.iter().filter(|expected| {
            !matches!(expected.what, Expectation::Field(FieldAmount::Source, _))
        });
        plain.map(|expected| self.off_one(levels, &expected.what)).collect()
    }

    fn off_one(&self, levels: &BoardLevels, what: &Expectation) -> f64 {
        match self.amount(levels, what) {
            Some((value, bounds)) => off_middle(value, bounds),
            None if self.margin(levels, what) >= 0.0 => 0.0,
            None => 2.0,
        }
    }

    /// The figure that an expectation is about, V, if it is about one.
    fn amount<'e>(&self, levels: &BoardLevels, what: &'e Expectation) -> Option<(f64, &'e Bounds)> {
        match what {
            Expectation::Field(FieldAmount::Black, bounds) => Some((levels.sync.black_v, bounds)),
            Expectation::Field(FieldAmount::Tip, bounds) => Some((levels.sync.tip_v, bounds)),
            Expectation::Field(FieldAmount::SyncDepth, bounds) => {
                Some((levels.sync.depth_v, bounds))
            }
            Expectation::Field(FieldAmount::Source, bounds) => {
                Some((levels.source_ohms.unwrap_or(f64::NAN), bounds))
            }
            Expectation::Node(node, state, bounds) => {
                Some((self.node_v(levels, *node, *state), bounds))
            }
            Expectation::Shape(name, OfShape::Amount(amount, bounds)) => {
                let delta_v = self.element(levels, name)?.delta_v;
                let base = if *amount == ShapeAmount::Level { levels.sync.black_v } else { 0.0 };
                Some((base + delta_v, bounds))
            }
            _ => None,
        }
    }

    /// Below 0 if it is not met.
    fn margin(&self, levels: &BoardLevels, what: &Expectation) -> f64 {
        if let Some((value, bounds)) = self.amount(levels, what) {
            return bounds.margin(value);
        }
        let met = match what {
            Expectation::Sync(words) => words.contains(&levels.sync.state.word()),
            Expectation::Shape(name, what) => {
                self.element(levels, name).is_none_or(|element| word_met(element, what))
            }
            _ => true,
        };
        if met { 0.0 } else { -1.0 }
    }

    /// The element of a name, or of the shape of that name.
    fn element<'l>(&self, levels: &'l BoardLevels, name: &str) -> Option<&'l ElementLevel> {
        let elements = &self.scenario.raster.elements;
        let own = elements.iter().position(|element| element == name);
        let of_shape = || {
            let shapes = self.scenario.raster.shapes();
            shapes.iter().find(|shape| shape.name == name).map(|shape| usize::from(shape.element.0))
        };
        levels.elements.get(own.or_else(of_shape)?)
    }

    fn node_v(&self, levels: &BoardLevels, node: NodeId, state: NodeState) -> f64 {
        let place = self.taps.iter().position(|tap| *tap == node).map_or(0, |place| place + 1);
        let only = |element: ElementId| ElementSet::only(element);
        match state {
            NodeState::Tip => levels.at(place, ElementSet::EMPTY, LinePart::Sync),
            NodeState::Black => levels.at(place, ElementSet::EMPTY, LinePart::Active),
            NodeState::Lit(element) => levels.at(place, only(element), LinePart::Active),
        }
    }
}

fn off_middle(value: f64, bounds: &Bounds) -> f64 {
    const SHARE: f64 = 0.05;
    const LEAST_V: f64 = 1e-3;
    match (bounds.low, bounds.high) {
        (Some(low), Some(high)) => {
            let half = (0.5 * (high - low)).max(LEAST_V);
            if value.is_nan() { f64::INFINITY } else { (value - 0.5 * (low + high)).abs() / half }
        }
        (Some(end), None) | (None, Some(end)) => {
            let beyond = -bounds.margin(value);
            if beyond <= 0.0 { 0.0 } else { 1.0 + beyond / (SHARE * end.abs()).max(LEAST_V) }
        }
        (None, None) => 0.0,
    }
}

/// Whether standing levels say anything of it.
fn at_rest(what: &Expectation) -> bool {
    match what {
        Expectation::Field(amount, _) => {
            use FieldAmount::{Black, Source, SyncDepth, Tip};
            matches!(amount, Black | Tip | SyncDepth | Source)
        }
        Expectation::Sync(_) | Expectation::Node(..) => true,
        Expectation::Shape(_, what) => match what {
            OfShape::Amount(amount, _) => {
                matches!(amount, ShapeAmount::Level | ShapeAmount::Delta)
            }
            OfShape::Seen(_) => true,
            OfShape::Notes(words) => words.iter().all(|word| STANDING_NOTES.contains(word)),
            // What stands is judged, what moves is not.
            OfShape::Not(words) => words.iter().any(|word| STANDING_NOTES.contains(word)),
        },
        Expectation::Ratings(_)
        | Expectation::Lock(_)
        | Expectation::TakenForSync(_)
        | Expectation::Waveform { .. } => false,
    }
}

/// Notes that a level alone can have.
const STANDING_NOTES: [&str; 3] = ["dark", "same shade", "brighter"];

fn word_met(element: &ElementLevel, what: &OfShape) -> bool {
    let has = |word: &&str| element.notes.iter().any(|&note| note_word(note) == *word);
    match what {
        OfShape::Seen(words) => words.contains(&element.seen.word()),
        OfShape::Notes(words) => words.iter().all(|word| has(word)),
        OfShape::Not(words) => !words.iter().any(|word| has(word)),
        OfShape::Amount(..) => true,
    }
}

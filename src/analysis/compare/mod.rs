//! Two boards side by side: what became better or worse, and which difference did it.
//!
//! Every difference is made alone on the first board, and left out alone on the way to the second;
//! what the differences do one by one need not add up, and what is left over is told.

mod difference;
mod twin;
mod union;

use crate::analysis::compare::union::Union;
use crate::analysis::examine::examine;
use crate::analysis::examine::glance;
use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::single_levels;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::verdict::Note;
use crate::base::parallel;
use crate::scenario::Scenario;
use crate::simulate::FieldRun;
use crate::simulate::RunError;
use crate::simulate::first_field;

/// One board of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// One line about it.
    pub title: String,
    /// What is measured at rest and in time.
    pub figures: Figures,
    /// What each shape amounts to, with causes.
    pub reading: FieldReading,
    /// Its first field.
    pub field: FieldRun,
}

/// What is compared by numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Black, tip and depth at rest.
    pub sync: SyncLevels,
    /// Each element alone at rest, by index.
    pub elements: Vec<ElementLevel>,
    /// The edge at the start of each element, 10–90 %, s, by index, where it could be measured.
    pub rises_s: Vec<Option<f64>>,
}

/// By how much figures move.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// Black, V.
    pub black_v: f64,
    /// Sync depth, V.
    pub depth_v: f64,
    /// Each element against black, V, by index.
    pub deltas_v: Vec<f64>,
    /// The edge of each, s, where both could be measured.
    pub rises_s: Vec<Option<f64>>,
}

/// What one difference does.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// The difference.
    pub words: String,
    /// Made alone on the first board; `None` if that board cannot be solved.
    pub alone: Option<Move>,
    /// What is missing if it alone is left out of the second; `None` likewise.
    pub last: Option<Move>,
}

/// The boards, and what lies between them.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The first and the second.
    pub boards: [Board; 2],
    /// From the first to the second.
    pub total: Move,
    /// What each difference does; empty if the boards are the same.
    pub shares: Vec<Share>,
    /// What is left of `total` when each difference's own part is taken off.
    pub unexplained: Move,
    /// What is seen better on the second.
    pub better: Vec<String>,
    /// What is seen worse on the second.
    pub worse: Vec<String>,
}

/// Why two boards cannot be compared.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CompareError {
    /// One of them, or one between them, cannot be solved.
    #[error("{board}: {error}")]
    Run {
        /// Which.
        board: String,
        /// Why.
        error: RunError,
    },
    /// Their chips differ too much for a board between them.
    #[error("the two chips have other pins or other elements: there is no board between these two")]
    OtherChip,
}

/// Compares two boards.
///
/// # Errors
///
/// [`CompareError`].
pub fn compare(first: &Scenario, second: &Scenario) -> Result<Comparison, CompareError> {
    let union = Union::new(first, second).ok_or(CompareError::OtherChip)?;
    let boards = parallel::map(&[first, second], |scenario| board(scenario));
    let mut boards = boards.into_iter();
    let (Some(a), Some(b)) = (boards.next(), boards.next()) else {
        return Err(CompareError::OtherChip);
    };
    let boards = [a?, b?];
    let [a, b] = [&boards[0].figures, &boards[1].figures];
    let count = union.differences.len();
    // The ends of the way between them as the differences build them, then each alone and left out.
    let trials: Vec<Trial> = [Trial::None, Trial::All]
        .into_iter()
        .chain((0..count).map(Trial::Only))
        .chain((0..count).map(Trial::But))
        .collect();
    // A board between two sound ones may be none that can be solved: then nothing is said of it.
    let in_time = count <= MOST_IN_TIME;
    let figures = parallel::map(&trials, |trial| {
        let scenario = union.hybrid(&|index| trial.includes(index));
        if in_time { figures(&scenario).ok() } else { standing(&scenario).ok() }
    });
    let between = |from: usize, to: usize| {
        Some(Move::between(figures[from].as_ref()?, figures[to].as_ref()?))
    };
    let shares: Vec<Share> = union
        .differences
        .iter()
        .enumerate()
        .map(|(index, difference)| Share {
            words: difference.words.clone(),
            alone: between(0, 2 + index),
            last: between(2 + count + index, 1),
        })
        .collect();
    let total = Move::between(a, b);
    let alone = shares.iter().filter_map(|share| share.alone.as_ref());
    let unexplained = alone.fold(total.clone(), |left, alone| left.less(alone));
    let (better, worse) = words(&boards);
    Ok(Comparison { boards, total, shares, unexplained, better, worse })
}

/// Which differences a board between the two has.
#[derive(Clone, Copy)]
enum Trial {
    None,
    All,
    Only(usize),
    But(usize),
}

impl Trial {
    fn includes(self, index: usize) -> bool {
        match self {
            Self::None => false,
            Self::All => true,
            Self::Only(only) => index == only,
            Self::But(left_out) => index != left_out,
        }
    }
}

fn board(scenario: &Scenario) -> Result<Board, CompareError> {
    let run = || -> Result<Board, RunError> {
        let field = first_field(scenario)?;
        let reading = examine(scenario, &field)?;
        let figures = measured(scenario, &reading)?;
        Ok(Board { title: scenario.title.clone(), figures, reading, field })
    };
    run().map_err(|error| CompareError::Run { board: scenario.title.clone(), error })
}

/// With more differences the boards between the two are solved at rest only.
const MOST_IN_TIME: usize = 12;

/// The figures of a board at rest.
fn standing(scenario: &Scenario) -> Result<Figures, RunError> {
    let (sync, elements) = single_levels(scenario, &scenario.circuit)?;
    let rises_s = vec![None; elements.len()];
    Ok(Figures { sync, elements, rises_s })
}

/// The figures of a board between the two: no causes are sought.
fn figures(scenario: &Scenario) -> Result<Figures, RunError> {
    measured(scenario, &glance(scenario)?)
}

fn measured(scenario: &Scenario, reading: &FieldReading) -> Result<Figures, RunError> {
    let (sync, elements) = single_levels(scenario, &scenario.circuit)?;
    let rise = |name: &String| {
        let mut shapes = reading.shapes.iter().filter(|shape| shape.element == *name);
        shapes.find_map(|shape| shape.rise_s)
    };
    Ok(Figures { sync, elements, rises_s: scenario.raster.elements.iter().map(rise).collect() })
}

impl Move {
    /// From one board to another.
    fn between(from: &Figures, to: &Figures) -> Self {
        let deltas = to.elements.iter().zip(&from.elements);
        let rises = to.rises_s.iter().zip(&from.rises_s);
        Self {
            black_v: to.sync.black_v - from.sync.black_v,
            depth_v: to.sync.depth_v - from.sync.depth_v,
            deltas_v: deltas.map(|(to, from)| to.delta_v - from.delta_v).collect(),
            rises_s: rises.map(|(to, from)| Some((*to)? - (*from)?)).collect(),
        }
    }

    fn less(&self, other: &Self) -> Self {
        let deltas = self.deltas_v.iter().zip(&other.deltas_v);
        let rises = self.rises_s.iter().zip(&other.rises_s);
        Self {
            black_v: self.black_v - other.black_v,
            depth_v: self.depth_v - other.depth_v,
            deltas_v: deltas.map(|(a, b)| a - b).collect(),
            rises_s: rises.map(|(a, b)| Some((*a)? - (*b)?)).collect(),
        }
    }
}

/// What is seen better, and what worse.
fn words(boards: &[Board; 2]) -> (Vec<String>, Vec<String>) {
    let [a, b] = boards;
    let (mut better, mut worse) = (Vec::new(), Vec::new());
    let mut tell = |is_worse: bool, text: String| {
        let list = if is_worse { &mut worse } else { &mut better };
        if !list.contains(&text) {
            list.push(text);
        }
    };
    if a.reading.sync != b.reading.sync {
        let text = format!("sync was {} and is {}", a.reading.sync.word(), b.reading.sync.word());
        tell(b.reading.sync < a.reading.sync, text);
    }
    for shape in &a.reading.shapes {
        let same =
            |other: &&ShapeReading| other.element == shape.element && other.shape == shape.shape;
        let Some(other) = b.reading.shapes.iter().find(same) else { continue };
        let name = if shape.shape == shape.element {
            shape.element.clone()
        } else {
            format!("{} ({})", shape.shape, shape.element)
        };
        if let (Some(was), Some(is)) = (shape.seen, other.seen)
            && was != is
        {
            tell(is < was, format!("{name} was {} and is {}", was.word(), is.word()));
        }
        let news = |from: &[Note], to: &[Note]| -> Vec<Note> {
            to.iter().copied().filter(|note| !from.contains(note)).collect()
        };
        for note in news(&shape.notes, &other.notes) {
            tell(true, format!("{name} is now {}", note.words()));
        }
        // What is gone altogether has lost its faults too, and is no better for it.
        if other.seen >= shape.seen {
            for note in news(&other.notes, &shape.notes) {
                tell(false, format!("{name} is no longer {}", note.words()));
            }
        }
    }
    (better, worse)
}

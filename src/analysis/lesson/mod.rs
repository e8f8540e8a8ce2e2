//! A composite line, built step by step from a scenario's own board.
//!
//! Every step is a run of the board: the chip's pins with only some of the picture on them, through
//! the same network into the same set.

pub mod broadcast;
pub mod mistake;
mod still;
pub mod sum;

use crate::analysis::lesson::broadcast::Broadcast;
use crate::analysis::lesson::mistake::Mistake;
use crate::analysis::lesson::mistake::mistakes;
use crate::analysis::lesson::still::line_with;
use crate::analysis::lesson::still::lit_anywhere;
use crate::analysis::lesson::still::only;
use crate::analysis::lesson::still::still;
use crate::analysis::lesson::sum::Loaded;
use crate::analysis::lesson::sum::Sum;
use crate::analysis::lesson::sum::loads;
use crate::analysis::lesson::sum::sum;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::reading::read_field;
use crate::base::parallel;
use crate::receiver::spec::ReceiverSpec;
use crate::scenario::Scenario;
use crate::scenario::VerdictLines;
use crate::signal::element::ElementId;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;
use crate::signal::timing::FieldTiming;
use crate::simulate::FieldRun;
use crate::simulate::RunError;
use crate::simulate::first_field;

/// All that a lesson shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// The board's title.
    pub title: String,
    /// Lines and clocks.
    pub timing: FieldTiming,
    /// Whether sync is given pulse by pulse in place of the form that `timing` describes.
    pub own_sync: bool,
    /// The standard beside it.
    pub broadcast: &'static Broadcast,
    /// The set.
    pub receiver: ReceiverSpec,
    /// Where the words begin.
    pub verdict: VerdictLines,
    /// The picture.
    pub map: ElementMap,
    /// Whether paddles and ball were brought to one height for it.
    pub moved: bool,
    /// The line that is built.
    pub line: u32,
    /// Nothing lit.
    pub bare: FieldRun,
    /// One element more in each, in the chip's order.
    pub steps: Vec<Step>,
    /// What the whole picture amounts to.
    pub reading: FieldReading,
    /// Pins and socket.
    pub sum: Sum,
    /// The own load, two of it, none.
    pub loads: [Loaded; 3],
    /// Mistakes.
    pub mistakes: Vec<Mistake>,
    /// Elements that are nowhere in the picture.
    pub absent: Vec<String>,
}

/// A line with one element more.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What was added.
    pub element: ElementId,
    /// Its name.
    pub name: String,
    /// The line on which it is shown.
    pub line: u32,
    /// Clocks for which it is lit there, in its first run.
    pub clocks: u32,
    /// What its shape on that line amounts to in the whole picture.
    pub shape: ShapeReading,
    /// The field so far.
    pub field: FieldRun,
}

/// A page: one idea, one picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Page {
    /// The sync pulse alone.
    Sync,
    /// What lies around it.
    Porches,
    /// An element more; index into [`Lesson::steps`].
    Element(usize),
    /// Pins and socket.
    Mixer,
    /// One set, two, none.
    Load,
    /// Where the set cuts.
    Slice,
    /// What the set takes for black.
    Clamp,
    /// The line as light.
    Stripe,
    /// Lines become a picture.
    Lines,
    /// Where a picture starts.
    FieldSync,
    /// Index into [`Lesson::mistakes`].
    Mistake(usize),
}

impl Lesson {
    /// The pages in their order.
    #[must_use]
    pub fn pages(&self) -> Vec<Page> {
        let mut pages = vec![Page::Sync, Page::Porches];
        pages.extend((0..self.steps.len()).map(Page::Element));
        pages.extend([Page::Mixer, Page::Load, Page::Slice, Page::Clamp, Page::Stripe]);
        pages.extend([Page::Lines, Page::FieldSync]);
        pages.extend((0..self.mistakes.len()).map(Page::Mistake));
        pages
    }

    /// The field with all that is lit.
    #[must_use]
    pub fn whole(&self) -> &FieldRun {
        self.steps.last().map_or(&self.bare, |step| &step.field)
    }
}

/// Runs a lesson.
///
/// # Errors
///
/// A board that cannot be drawn, solved or received.
pub fn lesson(scenario: &Scenario) -> Result<Lesson, RunError> {
    let picture = still(&scenario.raster)?;
    let map = picture.map;
    let lit = lit_anywhere(&map);
    let mut sets = vec![ElementSet::EMPTY];
    for element in lit.iter() {
        sets.push(sets[sets.len() - 1].with(element));
    }
    let runs = parallel::map(&sets, |&set| first_field(&only(scenario, &map, set)));
    let mut runs = runs.into_iter().collect::<Result<Vec<FieldRun>, RunError>>()?;
    let whole = only(scenario, &map, lit);
    let bare = runs.remove(0);
    let last = runs.last().unwrap_or(&bare);
    let reading =
        read_field(&last.trains, &last.traces[0], &last.reception, &scenario.received, None);
    let line = map.line_that_shows_most();
    let steps = lit.iter().zip(runs).filter_map(|(element, field)| {
        let line =
            if map.on_line(line).contains(element) { line } else { line_with(&map, element)? };
        step(&map, &reading, element, (line, field))
    });
    let names = scenario.raster.elements.iter().zip((0..).map(ElementId));
    let absent = names.filter(|(_, id)| !lit.contains(*id)).map(|(name, _)| name.clone()).collect();
    Ok(Lesson {
        title: scenario.title.clone(),
        timing: scenario.raster.timing,
        own_sync: scenario.raster.sync_blocks.is_some(),
        broadcast: broadcast::nearest(&scenario.raster.timing),
        receiver: scenario.receiver.clone(),
        verdict: scenario.received,
        moved: picture.moved,
        line,
        bare,
        steps: steps.collect(),
        reading: reading.clone(),
        sum: sum(scenario, lit)?,
        loads: loads(scenario)?,
        mistakes: mistakes(&whole)?,
        absent,
        map: map.clone(),
    })
}

fn step(
    map: &ElementMap,
    reading: &FieldReading,
    element: ElementId,
    (line, field): (u32, FieldRun),
) -> Option<Step> {
    let patch = map.line(line).iter().find(|patch| map.shapes[patch.shape].element == element)?;
    let name = &map.elements[usize::from(element.0)];
    let shown = &map.shapes[patch.shape].name;
    let is_this = |read: &&ShapeReading| read.element == *name && read.shape == *shown;
    let shape = reading.shapes.iter().find(is_this)?.clone();
    let clocks = patch.stop - patch.start;
    Some(Step { element, name: name.clone(), line, clocks, shape, field })
}

//! One or two settings of a board through their values: levels and words against them.

use crate::analysis::examine::glance;
use crate::analysis::spread::judge::Judge;
use crate::analysis::spread::levels_of;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::scenario::Scenario;
use crate::simulate::RunError;

/// What a board with certain values comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Tip, black and depth, then every element's level above black, V; `None` if it cannot be
    /// measured.
    pub levels: Vec<Option<f64>>,
    /// The word for each element.
    pub seen: Vec<Option<Seen>>,
    /// The word for the sync.
    pub sync: SyncState,
    /// Expectations that are not met, of those that standing levels tell.
    pub unmet: Vec<String>,
}

/// Looks at boards, by their standing levels or, `in_time`, at the field that a set receives; each by
/// itself, so that one that cannot be solved leaves the others.
#[must_use]
pub fn points(boards: &[Scenario], in_time: bool) -> Vec<Result<Point, RunError>> {
    parallel::map(boards, |board| if in_time { received(board) } else { standing(board) })
}

fn standing(scenario: &Scenario) -> Result<Point, RunError> {
    let judge = Judge::new(scenario, false);
    let levels = judge.solver()?.solve(&scenario.circuit)?;
    let met = judge.met(&levels);
    Ok(Point {
        levels: levels_of(&levels).into_iter().map(Some).collect(),
        seen: levels.elements.iter().map(|element| Some(element.seen)).collect(),
        sync: levels.sync.state,
        unmet: unmet(&judge, &met),
    })
}

fn unmet(judge: &Judge<'_>, met: &[bool]) -> Vec<String> {
    let names = judge.names();
    let unmet = names.iter().zip(met).filter(|(_, met)| !**met);
    unmet.map(|(name, _)| (*name).to_owned()).collect()
}

/// Of an element with several shapes the one that is seen worst.
fn received(scenario: &Scenario) -> Result<Point, RunError> {
    let reading = glance(scenario)?;
    let plain = [reading.tip_v, reading.black_v, reading.black_v - reading.tip_v];
    let mut levels: Vec<Option<f64>> = plain.into_iter().map(Some).collect();
    let mut seen = Vec::new();
    for element in &scenario.raster.elements {
        let shapes = reading.shapes.iter().filter(|shape| shape.element == *element);
        let size = |delta: Option<f64>| delta.map_or(f64::INFINITY, f64::abs);
        let worst = shapes.min_by(|a, b| size(a.delta_v).total_cmp(&size(b.delta_v)));
        levels.push(worst.and_then(|shape| shape.delta_v));
        seen.push(worst.and_then(|shape| shape.seen));
    }
    let standing = standing(scenario)?;
    Ok(Point { levels, seen, sync: reading.sync, unmet: standing.unmet })
}

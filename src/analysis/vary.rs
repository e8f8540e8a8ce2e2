//! One or two settings of a board through their values: levels and words against them.

use crate::analysis::check::Case;
use crate::analysis::check::Received;
use crate::analysis::check::check;
use crate::analysis::spread::judge::Judge;
use crate::analysis::spread::levels_of;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::scenario::Scenario;

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
    /// Expectations that are not met, of those that can be told: at rest what standing levels say, in
    /// time all but a stored waveform.
    pub unmet: Vec<String>,
}

/// Looks at boards, by their standing levels or, `in_time`, at the field that a set receives; each by
/// itself, so that one that cannot be solved, whose reason is then told, leaves the others. Of an element with
/// several shapes the one that is seen worst counts.
#[must_use]
pub fn points(boards: &[Scenario], in_time: bool) -> Vec<Result<Point, String>> {
    parallel::map(boards, |board| if in_time { received(board) } else { standing(board) })
}

fn standing(scenario: &Scenario) -> Result<Point, String> {
    let judge = Judge::new(scenario, false);
    let solver = judge.solver().map_err(|error| error.to_string())?;
    let levels = solver.solve(&scenario.circuit).map_err(|error| error.to_string())?;
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

fn received(scenario: &Scenario) -> Result<Point, String> {
    let checked = check(&Case { scenario, stored: None }).map_err(|error| error.to_string())?;
    let Received { tip_v, black_v, sync, worst } = &checked.received;
    let plain = [*tip_v, *black_v, black_v - tip_v].map(Some);
    let deltas = worst.iter().map(|worst| worst.map(|(delta_v, _)| delta_v));
    let unmet = checked.findings.iter().filter(|one| !one.met && !one.is_waveform());
    Ok(Point {
        levels: plain.into_iter().chain(deltas).collect(),
        seen: worst.iter().map(|worst| worst.map(|(_, seen)| seen)).collect(),
        sync: *sync,
        unmet: unmet.map(|one| one.expected.name.clone()).collect(),
    })
}

//! Each electrolytic dried, one at a time: the board run for a field with less and less of it.

use crate::analysis::supply::Feed;
use crate::analysis::supply::SupplyError;
use crate::analysis::supply::in_time::InTime;
use crate::base::parallel;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::passive::CapacitorPolarity;
use crate::scenario::Scenario;

/// A capacitor of at least this counts as an electrolytic where the file does not say so, F; common
/// practice, no source.
pub const ELECTROLYTIC_FARADS: f64 = 1e-6;
/// Share of the capacitance that is left, and what the series resistance has been multiplied by. 70 %
/// and twice: a maker's note on the end of life; 10 to 80 % and 2 to 20 times after fifty years: from
/// memory.
pub const AGES: [(f64, f64); 3] = [(0.7, 2.0), (0.3, 5.0), (0.05, 20.0)];

/// Every electrolytic, dried.
#[derive(Clone, Debug, PartialEq)]
pub struct Dried {
    /// The board as it is.
    pub now: InTime,
    /// One for each electrolytic, in the order of the parts.
    pub parts: Vec<DriedPart>,
}

/// One electrolytic.
#[derive(Clone, Debug, PartialEq)]
pub struct DriedPart {
    /// Which.
    pub part: PartId,
    /// What it is on the board as it stands, F: one that is worn already dries from there.
    pub farads: f64,
    /// By age.
    pub steps: Vec<DriedStep>,
}

/// One age.
#[derive(Clone, Debug, PartialEq)]
pub struct DriedStep {
    /// Share of its capacitance that is left.
    pub left: f64,
    /// What its series resistance has been multiplied by.
    pub series: f64,
    /// What it comes to, or why that is not known.
    pub found: Result<InTime, String>,
}

/// Dries every electrolytic.
pub(crate) fn dried(feed: &Feed<'_>) -> Result<Dried, SupplyError> {
    let electrolytics = electrolytics(feed.scenario);
    let cases: Vec<Option<(PartId, f64, f64)>> = std::iter::once(None)
        .chain(
            electrolytics
                .iter()
                .flat_map(|&(part, _)| AGES.map(|(left, series)| Some((part, left, series)))),
        )
        .collect();
    let run = parallel::map(&cases, |case| match case {
        Some((part, left, series)) => {
            InTime::of(&aged(feed.scenario, *part, (*left, *series)), feed.rails)
        }
        None => InTime::of(feed.scenario, feed.rails),
    });
    let mut found = run.into_iter();
    let mut next = || found.next().expect("one for each case");
    let now = next()?;
    let mut parts = Vec::new();
    for (part, farads) in electrolytics {
        let mut steps = Vec::new();
        for (left, series) in AGES {
            let found = next().map_err(|error| error.to_string());
            steps.push(DriedStep { left, series, found });
        }
        parts.push(DriedPart { part, farads, steps });
    }
    Ok(Dried { now, parts })
}

/// The electrolytics that the file writes, and what they are, F.
fn electrolytics(scenario: &Scenario) -> Vec<(PartId, f64)> {
    let parts = scenario.circuit.parts.iter().zip(&scenario.part_spans).enumerate();
    let found = parts.filter_map(|(index, (part, span))| {
        let farads = match &part.kind {
            PartKind::RealCapacitor(real) if real.polarity == CapacitorPolarity::Polar => {
                Some(real.present_farads())
            }
            PartKind::RealCapacitor(real) => large(real.farads).map(|_| real.present_farads()),
            PartKind::Capacitor { farads, .. } => large(*farads),
            _ => None,
        };
        Some((PartId(index), farads.filter(|_| span.is_some())?))
    });
    found.collect()
}

fn large(farads: f64) -> Option<f64> {
    (farads >= ELECTROLYTIC_FARADS).then_some(farads)
}

/// The board with one of them aged. A plain capacitor has no series resistance that could grow.
fn aged(scenario: &Scenario, part: PartId, (left, series): (f64, f64)) -> Scenario {
    let mut board = scenario.clone();
    match &mut board.circuit.parts[part.0].kind {
        PartKind::RealCapacitor(real) => {
            real.farads_left *= left;
            real.series_factor *= series;
        }
        PartKind::Capacitor { farads, .. } => *farads *= left,
        _ => {}
    }
    board
}

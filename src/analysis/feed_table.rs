//! Which resistor into the modulator: carrier, depth and words for one value after another.

use crate::analysis::modulation::Modulation;
use crate::analysis::modulation::WhiteWord;
use crate::analysis::modulation::lit_shares;
use crate::analysis::modulation::modulation_of;
use crate::analysis::verdict::Seen;
use crate::base::parallel;
use crate::network::circuit::PartKind;
use crate::scenario::Scenario;
use crate::simulate::RunError;
use thiserror::Error;

/// Input resistances to look at where the modulator's own is not known, Ω: of cans of the time;
/// common practice, no source.
pub const UNKNOWN_OHMS: [f64; 4] = [470.0, 1e3, 2.2e3, 4.7e3];
/// Feed resistors to look at, Ω, the least and the greatest; common practice, no source.
pub const FEED_OHMS: [f64; 2] = [470.0, 22e3];

/// Feed resistors for one modulator, or for several that it may be.
#[derive(Clone, Debug, PartialEq)]
pub struct FeedTable {
    /// The resistor that the scenario has, Ω.
    pub fitted_ohms: f64,
    /// One for each input resistance, in their order.
    pub inputs: Vec<FeedInput>,
}

/// Feed resistors into one input resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct FeedInput {
    /// The modulator's input, Ω.
    pub input_ohms: f64,
    /// One for each feed resistor, in their order.
    pub rows: Vec<FeedRow>,
    /// The row to take: the least resistor, and so the brightest picture, that leaves white the
    /// carrier it needs, with sync and every element that any resistor shows; none if no row does.
    pub best: Option<usize>,
}

/// One feed resistor.
#[derive(Clone, Debug, PartialEq)]
pub struct FeedRow {
    /// The resistor, Ω.
    pub feed_ohms: f64,
    /// What it makes of the carrier.
    pub modulation: Modulation,
}

/// Why there is no table.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum FeedError {
    /// There is no modulator, or nothing to change before it.
    #[error(
        "there is no feed resistor to choose: the scenario needs `[modulator]` with `feed = \"4k7\"`"
    )]
    NoFeed,
    /// The board cannot be run.
    #[error(transparent)]
    Run(#[from] RunError),
}

/// Solves the board with every feed resistor into every input resistance, all in Ω.
///
/// # Errors
///
/// A scenario without a feed resistor, or a board that cannot be solved.
pub fn feed_table(
    scenario: &Scenario,
    inputs: &[f64],
    feeds: &[f64],
) -> Result<FeedTable, FeedError> {
    let modulator = scenario.modulator.as_ref().ok_or(FeedError::NoFeed)?;
    let feed = modulator.feed.ok_or(FeedError::NoFeed)?;
    let PartKind::Resistor { ohms: fitted_ohms, .. } = scenario.circuit.parts[feed.0].kind else {
        return Err(FeedError::NoFeed);
    };
    let shares = lit_shares(scenario)?;
    let pairs: Vec<(f64, f64)> =
        inputs.iter().flat_map(|&input| feeds.iter().map(move |&feed| (input, feed))).collect();
    let solved = parallel::map(&pairs, |&(input_ohms, feed_ohms)| {
        let mut circuit = scenario.circuit.clone();
        for (part, value) in [(feed, feed_ohms), (scenario.output.load, input_ohms)] {
            if let PartKind::Resistor { ohms, .. } = &mut circuit.parts[part.0].kind {
                *ohms = value;
            }
        }
        let modulation = modulation_of(scenario, &modulator.path, &circuit, &shares)?;
        Ok(FeedRow { feed_ohms, modulation })
    });
    let rows: Vec<FeedRow> = solved.into_iter().collect::<Result<_, RunError>>()?;
    let chunks = rows.chunks(feeds.len().max(1)).zip(inputs);
    let inputs = chunks.map(|(rows, &input_ohms)| FeedInput {
        input_ohms,
        best: best(rows),
        rows: rows.to_vec(),
    });
    Ok(FeedTable { fitted_ohms, inputs: inputs.collect() })
}

fn best(rows: &[FeedRow]) -> Option<usize> {
    let shown = |row: &FeedRow| {
        row.modulation.elements.iter().filter(|element| element.seen == Seen::Clear).count()
    };
    let fits = |row: &FeedRow| matches!(row.modulation.word, WhiteWord::Good | WhiteWord::Dim);
    let most = rows.iter().filter(|row| fits(row)).map(shown).max()?;
    let sync = rows.iter().filter(|row| fits(row)).map(|row| row.modulation.sync).max()?;
    rows.iter()
        .position(|row| fits(row) && shown(row) == most && row.modulation.sync == sync)
        .or_else(|| rows.iter().position(fits))
}

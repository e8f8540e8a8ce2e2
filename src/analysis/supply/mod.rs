//! What feeds a board, from fresh to flat: rails, clock, sync and elements against a battery, what
//! each electrolytic does as it dries, contacts, a beep, and a bench feed.

pub mod beep;
pub mod bench;
pub mod contact;
pub mod discharge;
pub mod dried;
pub mod in_time;
pub mod look;

use crate::analysis::supply::beep::Beep;
use crate::analysis::supply::bench::BenchFeed;
use crate::analysis::supply::bench::Clip;
use crate::analysis::supply::contact::Contacts;
use crate::analysis::supply::discharge::Discharge;
use crate::analysis::supply::dried::Dried;
use crate::analysis::supply::look::Look;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::scenario::battery::Battery;
use crate::scenario::limits::Limits;
use crate::simulate::RunError;
use thiserror::Error;

/// What is asked of a supply.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyRequest {
    /// The source to look at, by its name; the first battery where nothing is said, else the first
    /// adapter, else what feeds the chip, else the first supply.
    pub source: Option<String>,
    /// Steps from fresh to flat, 2 or more.
    pub steps: u16,
    /// What is run in time as well, besides standing levels.
    pub runs: Runs,
    /// A bench supply clipped on.
    pub clip: Option<Clip>,
}

/// Whether boards are run for a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Runs {
    /// Standing levels only: nothing of ripple, of electrolytics, of how the set holds.
    None,
    /// All of it.
    InTime,
}

/// A board's supply, examined.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyReport {
    /// The source.
    pub source: PartId,
    /// What it is made of, if it is a battery.
    pub battery: Option<Battery>,
    /// The other sources, which stay as they are.
    pub others: Vec<PartId>,
    /// Nodes that feed something.
    pub rails: Vec<NodeId>,
    /// Regulators, in the order of the parts.
    pub regulators: Vec<PartId>,
    /// How the clock stands to the supply.
    pub clock: Follows,
    /// The board as it is.
    pub now: Look,
    /// From fresh to flat.
    pub discharge: Discharge,
    /// What bad contacts do.
    pub contacts: Contacts,
    /// What a beep does.
    pub beep: Beep,
    /// Each electrolytic dried, if boards were run.
    pub dried: Option<Dried>,
    /// The bench feed, if one was clipped on.
    pub bench: Option<BenchFeed>,
}

/// How a clock stands to the supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Follows {
    /// It is a number.
    Number,
    /// A tank of which nothing is said.
    Tank,
    /// A tank that moves by such a share for each volt.
    By(f64),
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SupplyError {
    /// Nothing feeds the board.
    #[error("no battery, adapter or supply feeds this board")]
    NoSource,
    /// No source is called so.
    #[error("`{name}` is no source of this board")]
    NotASource {
        /// What was asked for.
        name: String,
        /// What there is.
        sources: Vec<String>,
    },
    /// The board cannot be run.
    #[error(transparent)]
    Run(#[from] RunError),
}

impl From<NetworkError> for SupplyError {
    fn from(error: NetworkError) -> Self {
        Self::Run(error.into())
    }
}

/// Examines what feeds a board.
///
/// # Errors
///
/// A board without a source, or one that cannot be run as it is.
pub fn supply(scenario: &Scenario, request: &SupplyRequest) -> Result<SupplyReport, SupplyError> {
    let sources = sources(scenario);
    let source = chosen(scenario, &sources, request.source.as_deref())?;
    let battery = scenario.batteries.iter().find(|(part, _)| *part == source);
    let battery = battery.map(|(_, battery)| *battery);
    let rails = look::rails(scenario);
    let feed = Feed { scenario, source, battery: battery.as_ref(), rails: &rails };
    let now = feed.look(scenario)?;
    let dried = match request.runs {
        Runs::InTime => Some(dried::dried(&feed)?),
        Runs::None => None,
    };
    let bench = request.clip.as_ref().map(|clip| bench::clipped(&feed, clip)).transpose()?;
    Ok(SupplyReport {
        source,
        battery,
        others: sources.into_iter().filter(|&other| other != source).collect(),
        regulators: look::regulators(scenario),
        clock: follows(scenario),
        discharge: discharge::discharge(&feed, usize::from(request.steps), request.runs)?,
        contacts: contact::contacts(&feed, &now, request.runs)?,
        beep: beep::beep(&feed, &now)?,
        dried,
        bench,
        now,
        rails: rails.clone(),
    })
}

/// One source of a board, and what is looked at while it changes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Feed<'a> {
    pub(crate) scenario: &'a Scenario,
    pub(crate) source: PartId,
    pub(crate) battery: Option<&'a Battery>,
    pub(crate) rails: &'a [NodeId],
}

impl Feed<'_> {
    /// What a board comes to that is this one but for an edit.
    pub(crate) fn look(&self, board: &Scenario) -> Result<Look, NetworkError> {
        Look::at(board, self.source, self.rails)
    }

    /// Open volts and what is in series, V and Ω.
    pub(crate) fn stands(&self) -> (f64, f64) {
        match &self.scenario.circuit.parts[self.source.0].kind {
            PartKind::Supply { volts, ohms, .. } => (*volts, *ohms),
            PartKind::Adapter(adapter) => (adapter.volts, adapter.ohms),
            _ => (0.0, 0.0),
        }
    }

    /// The board with its source so, V and Ω.
    pub(crate) fn with(&self, volts: f64, ohms: f64) -> Scenario {
        let mut board = self.scenario.clone();
        match &mut board.circuit.parts[self.source.0].kind {
            PartKind::Supply { volts: own_volts, ohms: own_ohms, .. } => {
                (*own_volts, *own_ohms) = (volts, ohms);
            }
            PartKind::Adapter(adapter) => (adapter.volts, adapter.ohms) = (volts, ohms),
            _ => {}
        }
        board.with_clock_pulled()
    }

    /// The same board with an adapter's ripple taken away: what no ripple decides is run without it, for
    /// nothing of such a field is known beforehand.
    pub(crate) fn without_ripple(board: &Scenario, source: PartId) -> Scenario {
        let mut board = board.clone();
        if let PartKind::Adapter(adapter) = &mut board.circuit.parts[source.0].kind {
            adapter.ripple_volts = 0.0;
        }
        board
    }

    /// The node that the source feeds.
    pub(crate) fn node(&self) -> NodeId {
        self.scenario.circuit.parts[self.source.0].kind.fed().unwrap_or(NodeId::GROUND)
    }
}

/// Supplies, batteries and adapters that the file writes.
fn sources(scenario: &Scenario) -> Vec<PartId> {
    let parts = scenario.circuit.parts.iter().zip(&scenario.part_spans).enumerate();
    let sources = parts.filter(|(_, (part, span))| {
        span.is_some() && matches!(part.kind, PartKind::Supply { .. } | PartKind::Adapter(_))
    });
    sources.map(|(index, _)| PartId(index)).collect()
}

fn chosen(
    scenario: &Scenario,
    sources: &[PartId],
    wanted: Option<&str>,
) -> Result<PartId, SupplyError> {
    let kind = |part: PartId| &scenario.circuit.parts[part.0].kind;
    let name = |part: &PartId| scenario.circuit.parts[part.0].name.clone();
    if let Some(wanted) = wanted {
        let found = sources.iter().find(|part| name(part) == wanted);
        return found.copied().ok_or_else(|| SupplyError::NotASource {
            name: wanted.to_owned(),
            sources: sources.iter().map(name).collect(),
        });
    }
    let is_battery = |part: PartId| scenario.batteries.iter().any(|(other, _)| *other == part);
    let is_adapter = |part: PartId| matches!(kind(part), PartKind::Adapter(_));
    let feeds_chip = |part: PartId| kind(part).fed() == look::chip_node(scenario);
    let first = |is: &dyn Fn(PartId) -> bool| sources.iter().copied().find(|&part| is(part));
    first(&is_battery)
        .or_else(|| first(&is_adapter))
        .or_else(|| first(&feeds_chip))
        .or_else(|| sources.first().copied())
        .ok_or(SupplyError::NoSource)
}

fn follows(scenario: &Scenario) -> Follows {
    match (scenario.tank, scenario.clock_drift) {
        (None, _) => Follows::Number,
        (Some(_), None) => Follows::Tank,
        (Some(_), Some(drift)) => Follows::By(drift.per_volt),
    }
}

/// The board with one part more.
fn with_part(board: &Scenario, name: &str, kind: PartKind) -> Scenario {
    let mut board = board.clone();
    board.circuit.parts.push(Part { name: name.to_owned(), kind });
    board.part_spans.push(None);
    board.limits.push(Limits::None);
    board.with_clock_pulled()
}

//! The states of a board in which its parts are looked at.

use crate::analysis::ladder::Levels;
use crate::analysis::ladder::OPEN_OHMS;
use crate::analysis::ladder::with_load;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::currents::PartCurrents;
use crate::network::error::NetworkError;
use crate::network::operating_point::OperatingPoint;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::limits::Limits;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// What is plugged into the socket.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plugged {
    /// The scenario's own load.
    Set,
    /// Nothing.
    Nothing,
    /// A short.
    Shorted,
}

/// Where the ripple of the adapters is. What a reservoir capacitor takes off it is not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feed {
    /// At its mean, or there is none.
    Mean,
    /// At its lowest.
    Trough,
    /// At its highest.
    Crest,
}

/// A state of a board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State {
    /// What is plugged in.
    pub plugged: Plugged,
    /// Where the ripple is.
    pub feed: Feed,
    /// What is lit.
    pub on: ElementSet,
    /// Where in the line.
    pub part: LinePart,
    /// What is lit, in words.
    lit: String,
}

impl State {
    /// In words: "ball lit, nothing plugged in".
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = self.lit.clone();
        words += match self.plugged {
            Plugged::Set => "",
            Plugged::Nothing => ", nothing plugged in",
            Plugged::Shorted => ", socket shorted",
        };
        words += match self.feed {
            Feed::Mean => "",
            Feed::Trough => ", ripple at its trough",
            Feed::Crest => ", ripple at its crest",
        };
        words
    }
}

/// Resistance of the short at the socket, Ω.
const SHORT_OHMS: f64 = 0.01;

/// A board solved in one state.
pub(super) struct Standing<'a> {
    pub(super) scenario: &'a Scenario,
    /// The scenario's circuit with its load and its feed as in `state`.
    pub(super) circuit: &'a Circuit,
    pub(super) state: &'a State,
    pub(super) point: &'a OperatingPoint,
    pub(super) currents: &'a PartCurrents,
}

impl Standing<'_> {
    /// The user's parts and the chip's, with what they bear.
    pub(super) fn parts(&self) -> impl Iterator<Item = (PartId, &Part, Limits)> {
        let parts = self.circuit.parts.iter().zip(&self.scenario.limits).enumerate();
        parts.map(|(index, (part, limits))| (PartId(index), part, *limits))
    }

    pub(super) fn volts(&self, node: NodeId) -> f64 {
        self.point.volts(node)
    }

    pub(super) fn amps_into(&self, part: PartId, node: NodeId) -> f64 {
        self.currents.into_part(part, node)
    }

    pub(super) fn heat_w(&self, part: PartId) -> f64 {
        self.currents.heat_w(part, self.point)
    }

    pub(super) fn node_name(&self, node: NodeId) -> &str {
        self.circuit.node_name(node)
    }

    /// Another board, edited from this one, in the same state.
    pub(super) fn solve_edited(&self, circuit: &Circuit) -> Result<OperatingPoint, NetworkError> {
        let levels = Levels::near(self.scenario, circuit, Some(self.point))?;
        levels.solve_near(self.state.on, self.state.part, self.point)
    }
}

/// Solves every state in turn.
pub(super) fn visit(
    scenario: &Scenario,
    rate: &mut dyn FnMut(&Standing<'_>) -> Result<(), NetworkError>,
) -> Result<(), NetworkError> {
    for (plugged, feed) in settings(scenario) {
        let circuit = edited(scenario, plugged, feed);
        let levels = Levels::new(scenario, &circuit)?;
        for (on, part, lit) in lights(scenario) {
            let point = levels.solve(on, part)?;
            let currents = levels.currents(&circuit, (on, part), &point);
            let state = State { plugged, feed, on, part, lit };
            rate(&Standing {
                scenario,
                circuit: &circuit,
                state: &state,
                point: &point,
                currents: &currents,
            })?;
        }
    }
    Ok(())
}

fn settings(scenario: &Scenario) -> Vec<(Plugged, Feed)> {
    let mut all = vec![
        (Plugged::Set, Feed::Mean),
        (Plugged::Nothing, Feed::Mean),
        (Plugged::Shorted, Feed::Mean),
    ];
    let parts = &scenario.circuit.parts;
    if parts.iter().any(|part| matches!(part.kind, PartKind::Adapter(_))) {
        all.extend([(Plugged::Set, Feed::Trough), (Plugged::Set, Feed::Crest)]);
    }
    all
}

fn edited(scenario: &Scenario, plugged: Plugged, feed: Feed) -> Circuit {
    let mut circuit = match plugged {
        Plugged::Set => scenario.circuit.clone(),
        Plugged::Nothing => with_load(scenario, OPEN_OHMS),
        Plugged::Shorted => with_load(scenario, SHORT_OHMS),
    };
    let share = match feed {
        Feed::Mean => 0.0,
        Feed::Trough => -0.5,
        Feed::Crest => 0.5,
    };
    for part in &mut circuit.parts {
        if let PartKind::Adapter(adapter) = &mut part.kind {
            adapter.volts += share * adapter.ripple_volts;
        }
    }
    circuit
}

/// Nothing, the pulse, each element alone, everything.
fn lights(scenario: &Scenario) -> Vec<(ElementSet, LinePart, String)> {
    let names = &scenario.raster.elements;
    let mut all = vec![
        (ElementSet::EMPTY, LinePart::Active, "nothing lit".to_owned()),
        (ElementSet::EMPTY, LinePart::Sync, "in the sync pulse".to_owned()),
    ];
    let mut everything = ElementSet::EMPTY;
    for (name, index) in names.iter().zip(0..) {
        let element = ElementId(index);
        everything = everything.with(element);
        all.push((ElementSet::only(element), LinePart::Active, format!("{name} lit")));
    }
    if names.len() > 1 {
        all.push((everything, LinePart::Active, "everything lit".to_owned()));
    }
    all
}

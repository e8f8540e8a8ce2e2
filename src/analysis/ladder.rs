//! The ladder: the level at the socket for every combination of elements.

use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::currents::PartCurrents;
use crate::network::error::NetworkError;
use crate::network::operating_point::Network;
use crate::network::operating_point::OperatingPoint;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use thiserror::Error;

/// Levels at the socket under one load after another.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// The socket's node.
    pub node: String,
    /// Element names, by [`ElementId`].
    pub elements: Vec<String>,
    /// The scenario's own load first, then 75 Ω, 37.5 Ω and open, each once.
    pub loads: Vec<LoadLadder>,
}

/// Levels under one load.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadLadder {
    /// Load resistance, Ω; "open" is the 1 MΩ of a meter.
    pub load_ohms: f64,
    /// Every combination, sync released first, sets in rising order of their bits.
    pub levels: Vec<LadderLevel>,
    /// Sync with nothing lit.
    pub sync: SyncLevels,
    /// A verdict for each element, by index.
    pub elements: Vec<ElementLevel>,
}

/// Which side of the sync pulse a level belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SyncSide {
    /// Sync released: picture.
    Picture,
    /// In the sync pulse.
    Pulse,
}

/// The level of one combination.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LadderLevel {
    /// Sync released or asserted.
    pub sync: SyncSide,
    /// What is lit.
    pub on: ElementSet,
    /// Level at the socket, V.
    pub volts: f64,
}

/// Black and tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SyncLevels {
    /// Nothing lit, sync released, V.
    pub black_v: f64,
    /// Nothing lit, sync asserted, V.
    pub tip_v: f64,
    /// Black minus tip, V.
    pub depth_v: f64,
    /// The word for the depth.
    pub state: SyncState,
}

/// One element alone on black.
#[derive(Clone, Debug, PartialEq)]
pub struct ElementLevel {
    /// Level minus black, V.
    pub delta_v: f64,
    /// The word.
    pub seen: Seen,
    /// What else there is to say.
    pub notes: Vec<Note>,
}

/// Resistance that stands for "nothing plugged in": a meter's input, Ω.
pub const OPEN_OHMS: f64 = 1e6;

/// Loads that every ladder shows beside the scenario's own: one set, two sets, none; Ω.
const LOADS: [f64; 3] = [75.0, 37.5, OPEN_OHMS];

/// Most elements whose combinations are all solved.
pub(crate) const MOST_ELEMENTS: usize = 12;

/// A capacitor of at least this holds its voltage through a line: 1 µF into 75 Ω is 75 µs. Levels
/// are those within a line, so it is held at what it has with nothing lit.
pub(crate) const HELD_FARADS: f64 = 1e-6;

/// Why there is no ladder.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LadderError {
    /// Too many combinations.
    #[error("{elements} elements have too many combinations; at most {most} elements are possible")]
    TooManyElements {
        /// Elements of the chip.
        elements: usize,
        /// The limit.
        most: usize,
    },
    /// The board cannot be solved.
    #[error(transparent)]
    Network(#[from] NetworkError),
}

/// Solves the standing level at the socket for every combination of elements, with sync released
/// and asserted, under each load.
///
/// # Errors
///
/// Too many elements, or a board that cannot be solved.
pub fn ladder(scenario: &Scenario) -> Result<Ladder, LadderError> {
    let elements = scenario.raster.elements.len();
    if elements > MOST_ELEMENTS {
        return Err(LadderError::TooManyElements { elements, most: MOST_ELEMENTS });
    }
    let own = load_ohms(scenario);
    let others = LOADS.into_iter().filter(|load| (load / own - 1.0).abs() > 1e-9);
    let loads: Vec<f64> = std::iter::once(own).chain(others).collect();
    let solved = parallel::map(&loads, |&ohms| load_ladder(scenario, ohms));
    Ok(Ladder {
        node: scenario.circuit.node_name(scenario.output.node).to_owned(),
        elements: scenario.raster.elements.clone(),
        loads: solved.into_iter().collect::<Result<_, _>>()?,
    })
}

fn load_ohms(scenario: &Scenario) -> f64 {
    match scenario.circuit.parts[scenario.output.load.0].kind {
        PartKind::Resistor { ohms, .. } => ohms,
        _ => OPEN_OHMS,
    }
}

/// The scenario with another load at its socket.
pub(crate) fn with_load(scenario: &Scenario, load_ohms: f64) -> Circuit {
    let mut circuit = scenario.circuit.clone();
    if let PartKind::Resistor { ohms, .. } = &mut circuit.parts[scenario.output.load.0].kind {
        *ohms = load_ohms;
    }
    circuit
}

/// Solves the standing levels of one board for states of its chip.
#[derive(Debug)]
pub(crate) struct Levels<'a> {
    scenario: &'a Scenario,
    network: Network,
    black: OperatingPoint,
}

impl<'a> Levels<'a> {
    /// Prepares a board, the scenario's own or an edited one with the same pins.
    pub(crate) fn new(scenario: &'a Scenario, circuit: &Circuit) -> Result<Self, NetworkError> {
        Self::near(scenario, circuit, None)
    }

    /// As [`Levels::new`], for a board whose black lies near one that is known.
    pub(crate) fn near(
        scenario: &'a Scenario,
        circuit: &Circuit,
        near: Option<&OperatingPoint>,
    ) -> Result<Self, NetworkError> {
        let mut network = Network::new(circuit)?;
        let idle = scenario.pin_levels(ElementSet::EMPTY, LinePart::Active);
        let mut black = network.operating_point_near(&idle, near)?;
        if network.hold_capacitors(HELD_FARADS, &black) {
            black = network.operating_point_near(&idle, Some(&black))?;
        }
        Ok(Self { scenario, network, black })
    }

    /// The same board with a current drawn from a node within a line: its large capacitors hold what they
    /// hold here.
    pub(crate) fn with_draw(
        &self,
        circuit: &Circuit,
        node: NodeId,
        amps: f64,
    ) -> Result<Self, NetworkError> {
        let mut drawn = circuit.clone();
        drawn.parts.push(Part { name: "probe".to_owned(), kind: PartKind::Draw { node, amps } });
        let mut network = Network::new(&drawn)?;
        network.hold_capacitors(HELD_FARADS, &self.black);
        let idle = self.scenario.pin_levels(ElementSet::EMPTY, LinePart::Active);
        let black = network.operating_point_near(&idle, Some(&self.black))?;
        Ok(Self { scenario: self.scenario, network, black })
    }

    /// Nothing lit, sync released.
    pub(crate) fn black(&self) -> &OperatingPoint {
        &self.black
    }

    /// The levels with `on` lit.
    pub(crate) fn solve(
        &self,
        on: ElementSet,
        part: LinePart,
    ) -> Result<OperatingPoint, NetworkError> {
        self.solve_near(on, part, &self.black)
    }

    /// As [`Levels::solve`], starting from a point that is close by.
    pub(crate) fn solve_near(
        &self,
        on: ElementSet,
        part: LinePart,
        near: &OperatingPoint,
    ) -> Result<OperatingPoint, NetworkError> {
        let levels = self.scenario.pin_levels(on, part);
        self.network.operating_point_near(&levels, Some(near))
    }

    /// What flows into each part of `circuit`, the board that was prepared, at a solved `point`.
    pub(crate) fn currents(
        &self,
        circuit: &Circuit,
        (on, part): (ElementSet, LinePart),
        point: &OperatingPoint,
    ) -> PartCurrents {
        let levels = self.scenario.pin_levels(on, part);
        self.network.currents(circuit, &levels, point)
    }

    /// How far one element lifts a node above black, V.
    pub(crate) fn delta(&self, element: ElementId, node: NodeId) -> Result<f64, NetworkError> {
        self.against_black((ElementSet::only(element), LinePart::Active), node)
    }

    /// How far a node lies above black in some state of the chip, V.
    pub(crate) fn against_black(
        &self,
        (on, part): (ElementSet, LinePart),
        node: NodeId,
    ) -> Result<f64, NetworkError> {
        Ok(self.solve(on, part)?.volts(node) - self.black.volts(node))
    }
}

fn load_ladder(scenario: &Scenario, load_ohms: f64) -> Result<LoadLadder, NetworkError> {
    let solver = Levels::new(scenario, &with_load(scenario, load_ohms))?;
    let node = scenario.output.node;
    let elements = scenario.raster.elements.len();
    let mut levels = Vec::new();
    for (sync, part) in [(SyncSide::Picture, LinePart::Active), (SyncSide::Pulse, LinePart::Sync)] {
        for bits in 0..1 << elements {
            let on = ElementSet(bits);
            let volts = solver.solve(on, part)?.volts(node);
            levels.push(LadderLevel { sync, on, volts });
        }
    }
    let black_v = levels[0].volts;
    let deltas: Vec<f64> = (0..elements).map(|index| levels[1 << index].volts - black_v).collect();
    let sync = SyncLevels::new(scenario, black_v, levels[1 << elements].volts);
    Ok(LoadLadder { load_ohms, levels, sync, elements: element_levels(scenario, &deltas) })
}

impl SyncLevels {
    pub(crate) fn new(scenario: &Scenario, black_v: f64, tip_v: f64) -> Self {
        let depth_v = black_v - tip_v;
        Self { black_v, tip_v, depth_v, state: scenario.verdict.sync(depth_v) }
    }
}

/// The words for the elements, each alone so far above black, V.
pub(crate) fn element_levels(scenario: &Scenario, deltas_v: &[f64]) -> Vec<ElementLevel> {
    let field = scenario.raster.elements.iter().position(|name| name == "field");
    let level = |(index, &delta_v): (usize, &f64)| ElementLevel {
        delta_v,
        seen: scenario.verdict.seen(delta_v),
        notes: scenario
            .verdict
            .notes(delta_v, field.filter(|&field| field != index).map(|field| deltas_v[field])),
    };
    deltas_v.iter().enumerate().map(level).collect()
}

/// Black, tip and every element alone, on the scenario's board or an edited one with the same pins.
pub(crate) fn single_levels(
    scenario: &Scenario,
    circuit: &Circuit,
) -> Result<(SyncLevels, Vec<ElementLevel>), NetworkError> {
    let levels = Levels::new(scenario, circuit)?;
    let node = scenario.output.node;
    let tip = levels.solve(ElementSet::EMPTY, LinePart::Sync)?;
    let sync = SyncLevels::new(scenario, levels.black().volts(node), tip.volts(node));
    let elements = scenario.raster.elements.iter().zip(0..);
    let deltas = elements.map(|(_, index)| levels.delta(ElementId(index), node));
    let deltas = deltas.collect::<Result<Vec<f64>, _>>()?;
    Ok((sync, element_levels(scenario, &deltas)))
}

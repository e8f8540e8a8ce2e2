//! The standing levels of the board with a fault.

use crate::analysis::hunt::fault::Fault;
use crate::analysis::hunt::faults::weaken;
use crate::analysis::ladder::Levels;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::operating_point::OperatingPoint;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// Pins tried, as factors on every pin's resistance in rising order, with how likely each is: a
/// chip's pins are known to a factor of three (strong 1 k, typical 3 k, weak 9 k), and the pins of
/// one chip are alike. Likelihoods: common practice, no source.
pub const STRENGTHS: [(f64, f64); 7] = [
    (0.333, 0.04),
    (0.481, 0.10),
    (0.693, 0.20),
    (1.0, 0.32),
    (1.442, 0.20),
    (2.080, 0.10),
    (3.0, 0.04),
];

/// Place of the scenario's own strength in [`STRENGTHS`].
const TYPICAL: usize = 3;

/// Boards of 5 % resistors that are solved to see how far their levels spread.
const SHAKEN: u32 = 8;

/// One deviation of a resistor that may lie anywhere within 5 %: 0.05 / √3.
const RESISTOR: f64 = 0.0289;

/// What 5 % resistors are held to leave open before it has been solved for: a share, and V. Wide,
/// so that what is off by more need not be looked at again.
const ROUGH: f64 = 0.1;
const ROUGH_V: f64 = 0.05;

/// What the chip does while a level is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// In the sync pulse.
    Tip,
    /// Nothing lit.
    Black,
    /// One element lit.
    Lit(ElementId),
}

impl State {
    /// Every state of a board: tip, black, then each element.
    #[must_use]
    pub fn all(scenario: &Scenario) -> Vec<Self> {
        let elements = (0..).map(ElementId).take(scenario.raster.elements.len());
        [Self::Tip, Self::Black].into_iter().chain(elements.map(Self::Lit)).collect()
    }

    /// Place in [`State::all`].
    #[must_use]
    pub fn index(self) -> usize {
        match self {
            Self::Tip => 0,
            Self::Black => 1,
            Self::Lit(element) => 2 + usize::from(element.0),
        }
    }

    /// As the user writes it: "tip", "black", "left".
    #[must_use]
    pub fn name(self, scenario: &Scenario) -> &str {
        match self {
            Self::Tip => "tip",
            Self::Black => "black",
            Self::Lit(element) => &scenario.raster.elements[usize::from(element.0)],
        }
    }
}

/// Volts by [`State::index`], then by node.
pub type Volts = Vec<Vec<f64>>;

/// Levels of a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// By [`STRENGTHS`].
    pub volts: Vec<Volts>,
    /// With resistors off by one deviation up or down, a lot of signs each, at typical pins; none
    /// after a first, rough look.
    pub shaken: Vec<Volts>,
}

impl Prediction {
    /// A level, V.
    #[must_use]
    pub fn at(&self, strength: usize, state: State, node: NodeId) -> f64 {
        self.volts[strength][state.index()][node.0]
    }

    /// One deviation of what 5 % resistors, and a strength between two that were tried, leave open
    /// of anything that is read off the levels, V.
    ///
    /// The mean square over lots of signs is, to first order, the sum of the squares that each
    /// resistor brings alone. A strength anywhere within a step of the list is off by the step's
    /// change over √12. The smaller change of the two sides counts: where a gate turns over between two
    /// strengths both are tried, and nothing lies between them.
    pub fn doubt_v(&self, strength: usize, of: impl Fn(&Volts) -> f64) -> f64 {
        let square = |a: f64| a * a;
        let typical = of(&self.volts[TYPICAL]);
        let rough = ROUGH_V + ROUGH * typical.abs();
        let parts: f64 = self.shaken.iter().map(|volts| square(of(volts) - typical)).sum();
        let own = of(&self.volts[strength]);
        let change = |at: Option<usize>| {
            at.and_then(|at| self.volts.get(at)).map_or(0.0, |volts| square(of(volts) - own))
        };
        let step = change(strength.checked_sub(1)).min(change(Some(strength + 1)));
        let parts = if self.shaken.is_empty() { square(rough) } else { parts / f64::from(SHAKEN) };
        (parts + step / 12.0).sqrt()
    }
}

/// Levels of a fault for all pin strengths, and how far they spread.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn predict(scenario: &Scenario, fault: &Fault) -> Result<Prediction, NetworkError> {
    spread(scenario, fault, rough(scenario, fault)?)
}

/// The same without the boards of 5 % resistors: with more than they are likely to leave open in their place.
pub(crate) fn rough(scenario: &Scenario, fault: &Fault) -> Result<Prediction, NetworkError> {
    let circuit = with_fault(scenario, fault);
    let mut near = Vec::new();
    let mut volts = Vec::new();
    for (strength, _) in STRENGTHS {
        near = solve(scenario, &with_pins(&circuit, strength), &near)?;
        volts.push(read(scenario, &near));
    }
    Ok(Prediction { volts, shaken: Vec::new() })
}

/// A rough prediction with how far its levels spread.
pub(crate) fn spread(
    scenario: &Scenario,
    fault: &Fault,
    rough: Prediction,
) -> Result<Prediction, NetworkError> {
    let circuit = with_fault(scenario, fault);
    let near = solve(scenario, &circuit, &[])?;
    let shaken = (0..SHAKEN)
        .map(|lot| Ok(read(scenario, &solve(scenario, &shake(scenario, &circuit, lot), &near)?)))
        .collect::<Result<_, NetworkError>>()?;
    Ok(Prediction { shaken, ..rough })
}

/// Every node in every state of a faulty board, its pins' resistances multiplied, V.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn levels(scenario: &Scenario, fault: &Fault, strength: f64) -> Result<Volts, NetworkError> {
    let circuit = with_pins(&with_fault(scenario, fault), strength);
    Ok(read(scenario, &solve(scenario, &circuit, &[])?))
}

/// The board with a fault and pins of a strength.
pub(crate) fn faulty(scenario: &Scenario, fault: &Fault, strength: f64) -> Circuit {
    with_pins(&with_fault(scenario, fault), strength)
}

fn with_fault(scenario: &Scenario, fault: &Fault) -> Circuit {
    let mut circuit = scenario.circuit.clone();
    for change in &fault.changes {
        // The list makes no change that its part does not take; a test of the list sees to it.
        let made = circuit.apply(change);
        debug_assert!(made.is_ok(), "{}: {made:?}", fault.name);
    }
    circuit
}

/// The board with every pin's resistances multiplied.
pub(crate) fn with_pins(circuit: &Circuit, strength: f64) -> Circuit {
    let mut circuit = circuit.clone();
    for part in &mut circuit.parts {
        if let PartKind::Pin(pin) = &mut part.kind {
            pin.levels.iter_mut().for_each(|level| weaken(level, strength));
        }
    }
    circuit
}

/// The resistors a deviation up or down, by signs that look drawn by lot but are always the same.
fn shake(scenario: &Scenario, circuit: &Circuit, lot: u32) -> Circuit {
    let mut circuit = circuit.clone();
    let mut sign = 0x9e37_79b9_u32.wrapping_mul(lot + 1);
    for (index, part) in circuit.parts.iter_mut().enumerate() {
        sign = sign.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let up = sign >> 31 == 1;
        if let PartKind::Resistor { ohms, .. } = &mut part.kind
            && index != scenario.output.load.0
        {
            *ohms *= if up { 1.0 + RESISTOR } else { 1.0 - RESISTOR };
        }
    }
    circuit
}

/// Every state, from points that lie near if there are any, by [`State::index`].
///
/// A gate whose output feeds its own input may stand either way, and stands as a ladder has it: all
/// gates start low before black, and as in black before anything else. So a near point is taken up
/// only where its gates are those.
fn solve(
    scenario: &Scenario,
    circuit: &Circuit,
    near: &[OperatingPoint],
) -> Result<Vec<OperatingPoint>, NetworkError> {
    let low = near.get(State::Black.index()).filter(|near| !near.gates.contains(&true));
    let levels = Levels::near(scenario, circuit, low)?;
    let black = levels.black();
    let solve = |state: State, on, part| {
        let near = near.get(state.index()).filter(|near| near.gates == black.gates);
        levels.solve_near(on, part, near.unwrap_or(black))
    };
    State::all(scenario)
        .into_iter()
        .map(|state| match state {
            State::Tip => solve(state, ElementSet::EMPTY, LinePart::Sync),
            State::Black => Ok(black.clone()),
            State::Lit(element) => solve(state, ElementSet::only(element), LinePart::Active),
        })
        .collect()
}

/// The volts of the scenario's own nodes.
fn read(scenario: &Scenario, points: &[OperatingPoint]) -> Volts {
    let nodes = scenario.circuit.nodes.len();
    points.iter().map(|point| (0..nodes).map(|node| point.volts(NodeId(node))).collect()).collect()
}

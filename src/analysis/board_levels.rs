//! All standing levels of one board after another that differ in values only: what `ladder` shows of one
//! board, for the many of `spread` and `choose`.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::HELD_FARADS;
use crate::analysis::ladder::LadderError;
use crate::analysis::ladder::MOST_ELEMENTS;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::element_levels;
use crate::analysis::source::source_ohms;
use crate::network::blocks::Blocks;
use crate::network::blocks::Seeds;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::network::operating_point::Network;
use crate::network::operating_point::OperatingPoint;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use crate::signal::pulse_train::Level;

/// The levels of one board.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardLevels {
    /// Node by node as asked for, then by combination: with sync released the sets in rising order of
    /// their bits, then the same in the sync pulse, V.
    pub volts: Vec<Vec<f64>>,
    /// Sync with nothing lit, at the first node.
    pub sync: SyncLevels,
    /// Each element alone on black, at the first node.
    pub elements: Vec<ElementLevel>,
    /// What the set sees behind the socket, Ω, if that was asked for.
    pub source_ohms: Option<f64>,
}

impl BoardLevels {
    /// A level at the `node`-th of the nodes asked for, V.
    #[must_use]
    pub fn at(&self, node: usize, on: ElementSet, part: LinePart) -> f64 {
        let half = self.volts[node].len() / 2;
        let place = usize::try_from(on.0).unwrap_or(0);
        let base = if part == LinePart::Sync { half } else { 0 };
        self.volts[node][base + place]
    }
}

/// Solves boards with the pins and the elements of a scenario.
#[derive(Debug)]
pub struct BoardSolver<'a> {
    scenario: &'a Scenario,
    nodes: Vec<NodeId>,
    /// What the pins do in every combination.
    states: Vec<Vec<Level>>,
    seeds: Seeds,
    black: Option<OperatingPoint>,
    wants_source: bool,
}

impl<'a> BoardSolver<'a> {
    /// For boards like that of `scenario`: the socket, then `taps`.
    ///
    /// # Errors
    ///
    /// Too many elements, as for a ladder; or the scenario's own board cannot be solved.
    pub fn new(scenario: &'a Scenario, taps: &[NodeId]) -> Result<Self, LadderError> {
        let elements = scenario.raster.elements.len();
        if elements > MOST_ELEMENTS {
            return Err(LadderError::TooManyElements { elements, most: MOST_ELEMENTS });
        }
        let states = [LinePart::Active, LinePart::Sync]
            .into_iter()
            .flat_map(|part| (0..1 << elements).map(move |bits| (ElementSet(bits), part)))
            .map(|(on, part)| scenario.pin_levels(on, part))
            .collect();
        let nodes = std::iter::once(scenario.output.node).chain(taps.iter().copied()).collect();
        let mut solver = Self {
            scenario,
            nodes,
            states,
            seeds: Seeds::default(),
            black: None,
            wants_source: false,
        };
        let (_, black, seeds) = solver.solve_from(&scenario.circuit)?;
        solver.black = Some(black);
        solver.seeds = seeds;
        Ok(solver)
    }

    /// Also finds what the set sees behind the socket, which takes two more solves a board.
    #[must_use]
    pub fn with_source(self) -> Self {
        Self { wants_source: true, ..self }
    }

    /// All levels of a board with the same pins.
    ///
    /// # Errors
    ///
    /// A board that cannot be solved.
    pub fn solve(&self, circuit: &Circuit) -> Result<BoardLevels, NetworkError> {
        let mut levels = self.solve_levels(circuit)?;
        if self.wants_source {
            levels.source_ohms = Some(self.source_ohms(circuit, &levels)?);
        }
        Ok(levels)
    }

    /// What the set sees behind the socket of a board whose levels are known, Ω.
    pub(crate) fn source_ohms(
        &self,
        circuit: &Circuit,
        levels: &BoardLevels,
    ) -> Result<f64, NetworkError> {
        // The pictures stand in front, the last of them with everything lit.
        let lit_v = levels.volts.first().map(|socket| socket[socket.len() / 2 - 1]);
        source_ohms(self.scenario, circuit, lit_v)
    }

    /// As [`BoardSolver::solve`], without what the set sees behind the socket.
    pub(crate) fn solve_levels(&self, circuit: &Circuit) -> Result<BoardLevels, NetworkError> {
        self.solve_from(circuit).map(|(levels, ..)| levels)
    }

    /// Whether it finds what the set sees behind the socket.
    pub(crate) fn wants_source(&self) -> bool {
        self.wants_source
    }

    fn solve_from(
        &self,
        circuit: &Circuit,
    ) -> Result<(BoardLevels, OperatingPoint, Seeds), NetworkError> {
        let mut network = Network::new(circuit)?;
        // As a ladder has it: gates start low before black, and as in black before anything else.
        let low = self.black.as_ref().filter(|near| !near.gates.contains(&true));
        let mut black = network.operating_point_near(&self.states[0], low)?;
        if network.hold_capacitors(HELD_FARADS, &black) {
            black = network.operating_point_near(&self.states[0], Some(&black))?;
        }
        let mut blocks = network.blocks(&self.seeds);
        let mut volts = vec![Vec::with_capacity(self.states.len()); self.nodes.len()];
        for state in &self.states {
            let quick = blocks.as_mut().is_some_and(|blocks| {
                let mut gates = black.gates.clone();
                blocks.settle(state, &mut gates)
            });
            match blocks.as_ref().filter(|_| quick) {
                Some(blocks) => self.read(&mut volts, |node| blocks.volts(node)),
                None => {
                    let point = network.operating_point_near(state, Some(&black))?;
                    self.read(&mut volts, |node| point.volts(node));
                }
            }
        }
        let seeds = blocks.map(Blocks::into_seeds).unwrap_or_default();
        Ok((self.judged(volts), black, seeds))
    }

    fn read(&self, volts: &mut [Vec<f64>], at: impl Fn(NodeId) -> f64) {
        for (volts, &node) in volts.iter_mut().zip(&self.nodes) {
            volts.push(at(node));
        }
    }

    fn judged(&self, volts: Vec<Vec<f64>>) -> BoardLevels {
        let elements = self.scenario.raster.elements.iter().zip(0..);
        let socket = &volts[0];
        let black_v = socket[0];
        let lit = elements.map(|(_, index)| 1_usize << ElementId(index).0);
        let deltas: Vec<f64> = lit.map(|place| socket[place] - black_v).collect();
        let sync = SyncLevels::new(self.scenario, black_v, socket[socket.len() / 2]);
        let elements = element_levels(self.scenario, &deltas);
        BoardLevels { volts, sync, elements, source_ohms: None }
    }
}

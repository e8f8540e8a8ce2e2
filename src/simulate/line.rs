//! One line alone, at the socket: for many boards that are given the same one.

use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::network::circuit::Circuit;
use crate::network::error::NetworkError;
use crate::network::operating_point::Network;
use crate::network::transient::Transient;
use crate::network::transient::TransientSpec;
use crate::raster::generate::Raster;
use crate::scenario::Scenario;
use crate::signal::element::ElementMap;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use crate::signal::timing::FieldTiming;
use crate::simulate::RunError;

/// A line that boards are to be run for.
#[derive(Debug)]
pub struct Line {
    /// Its number in the first field.
    pub number: u32,
    /// Clocks and lines.
    pub timing: FieldTiming,
    /// What is lit in the field.
    pub map: ElementMap,
    trains: Vec<PulseTrain>,
    idle: Vec<Level>,
    spec: TransientSpec,
}

impl Line {
    /// Line `number` of a scenario's first field, or the one that shows most.
    ///
    /// # Errors
    ///
    /// A plan that contradicts itself.
    ///
    /// # Panics
    ///
    /// If the field has no such line.
    pub fn new(scenario: &Scenario, number: Option<u32>) -> Result<Self, RunError> {
        let field = Raster::new(&scenario.raster)?.advance_field();
        let number = number.unwrap_or_else(|| field.map.line_that_shows_most());
        assert!(number < field.timing.lines_per_field, "the field has no line {number}");
        let (from, to) = (field.timing.tick(number, 0), field.timing.tick(number + 1, 0));
        let cut = |train: &PulseTrain| {
            let inside = train.edges().iter().filter(|edge| (from..to).contains(&edge.at.0));
            let edges = inside.map(|edge| Edge { at: Tick(edge.at.0 - from), ..*edge });
            let before = from.checked_sub(1);
            let initial = before.map_or(train.initial(), |at| train.level_at(Tick(at)));
            PulseTrain::new(initial, edges, TickSpan(to - from))
        };
        let trains: Vec<PulseTrain> = field.trains.iter().map(cut).collect();
        let idle = trains.iter().map(PulseTrain::initial).collect();
        let spec = TransientSpec {
            clock: field.timing.clock,
            samples_per_clock: scenario.solve.samples_per_clock,
            tolerance_v: scenario.solve.tolerance_v,
            taps: vec![scenario.output.node],
        };
        Ok(Self { number, timing: field.timing, map: field.map, trains, idle, spec })
    }

    /// The socket's volts over the line, of a board with the same pins: from its standing levels at the
    /// end of the line before, large capacitors charged as they are there.
    ///
    /// # Errors
    ///
    /// A board that cannot be followed.
    pub fn run(&self, circuit: &Circuit) -> Result<Vec<f32>, NetworkError> {
        let network = Network::new(circuit)?;
        let standing = network.operating_point(&self.idle)?;
        let mut run = Transient::new(&network, circuit, &standing, &self.idle, self.spec.clone());
        let mut samples = run.advance_field(&self.trains)?;
        Ok(samples.swap_remove(0))
    }
}

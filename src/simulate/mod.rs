//! The order of the stages: raster, network, path, receiver.

pub mod line;
pub mod sound;

use crate::base::ticks::ClockRate;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::network::operating_point::Network;
use crate::network::recall::RecallCounts;
use crate::network::transient::Counts;
use crate::network::transient::Transient;
use crate::network::transient::TransientSpec;
use crate::path::PathError;
use crate::path::link::DETECTOR;
use crate::path::link::Link;
use crate::raster::generate::Raster;
use crate::raster::plan_error::PlanError;
use crate::raster::rules::Event;
use crate::receiver::ReceiverError;
use crate::receiver::set::Set;
use crate::receiver::spec::Reception;
use crate::scenario::Reuse;
use crate::scenario::Scenario;
use crate::scenario::Start;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use crate::signal::trace::Trace;
use crate::simulate::sound::Ear;
use crate::sound::SoundError;
use thiserror::Error;

/// Why a run gave no field.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RunError {
    /// The chip's plan contradicts itself.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The board cannot be solved.
    #[error(transparent)]
    Network(#[from] NetworkError),
    /// The waveform cannot be sent through the air.
    #[error(transparent)]
    Path(#[from] PathError),
    /// Nothing can be heard at such a clock.
    #[error(transparent)]
    Sound(#[from] SoundError),
    /// The set cannot take the waveform.
    #[error(transparent)]
    Receiver(#[from] ReceiverError),
}

/// One field, from the chip's pins to the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldRun {
    /// What the chip put out.
    pub trains: FieldTrains,
    /// Waveforms: the set's video input first, then the taps asked for, in their order. That input is
    /// the socket, or behind a modulator the tuner's detector.
    pub traces: Vec<Trace>,
    /// Node of each trace; of a detector's the modulator's input.
    pub nodes: Vec<NodeId>,
    /// What the set made of the socket's waveform.
    pub reception: Reception,
}

/// A stage that has just been passed, for who wants to report progress.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The pulse trains are made.
    Raster,
    /// The board is solved.
    Network,
    /// The picture is scanned.
    Receiver,
}

/// A scenario's board, checked and ready to run.
#[derive(Debug)]
pub struct Bench<'a> {
    scenario: &'a Scenario,
    network: Network,
    /// The board of the sound, if it is asked for.
    sound: Option<Network>,
    nodes: Vec<NodeId>,
    rate: ClockRate,
}

/// A run in progress: one field after another, each from where the last one ended.
#[derive(Debug)]
pub struct Run<'a> {
    bench: &'a Bench<'a>,
    raster: Raster,
    transient: Option<Transient<'a>>,
    link: Option<Link>,
    set: Set,
    ear: Option<Ear<'a>>,
    /// What was heard and not taken yet.
    heard: Vec<f32>,
    /// Fields spent before the first one shown, until the board repeated.
    pub warm_up_fields: u32,
}

/// The first field of a scenario, with no node recorded but the socket.
///
/// # Errors
///
/// As [`Bench::new`], [`Bench::run`] and [`Run::advance_field`].
pub fn first_field(scenario: &Scenario) -> Result<FieldRun, RunError> {
    Bench::new(scenario, &[])?.run()?.advance_field(&mut |_| {})
}

impl<'a> Bench<'a> {
    /// Checks the board; `taps` are nodes to sample besides the socket.
    ///
    /// # Errors
    ///
    /// A board that cannot be solved.
    pub fn new(scenario: &'a Scenario, taps: &[NodeId]) -> Result<Self, RunError> {
        let network = Network::new(&scenario.circuit)?;
        let nodes = std::iter::once(scenario.output.node).chain(taps.iter().copied()).collect();
        let clock = scenario.raster.timing.clock;
        let rate = clock.times(scenario.solve.samples_per_clock).unwrap_or(clock);
        Ok(Self { scenario, network, sound: None, nodes, rate })
    }

    /// The same with its loudspeakers: see [`Run::heard`].
    ///
    /// # Errors
    ///
    /// A sound board that cannot be solved.
    pub fn with_sound(self) -> Result<Self, RunError> {
        let sound = Network::new(&self.scenario.sound.circuit)?;
        Ok(Self { sound: Some(sound), ..self })
    }

    /// Samples a second, exact.
    #[must_use]
    pub fn rate(&self) -> ClockRate {
        self.rate
    }

    /// Nodes sampled: the socket, then the taps.
    #[must_use]
    pub fn nodes(&self) -> &[NodeId] {
        &self.nodes
    }

    /// Names of the traces: nodes, but for a detector's.
    #[must_use]
    pub fn trace_names(&self) -> Vec<&str> {
        let name = |node: &NodeId| self.scenario.circuit.node_name(*node);
        let mut names: Vec<&str> = self.nodes.iter().map(name).collect();
        if self.scenario.modulator.is_some() {
            names[0] = DETECTOR;
        }
        names
    }

    /// A run from the first field.
    ///
    /// # Errors
    ///
    /// A plan that contradicts itself, or too few samples for a modulator.
    pub fn run(&'a self) -> Result<Run<'a>, RunError> {
        let raster = Raster::new(&self.scenario.raster)?;
        let modulator = self.scenario.modulator.as_ref();
        let link = modulator.map(|modulator| Link::new(&modulator.path, self.rate.seconds(1)));
        let link = link.transpose()?;
        let set = Set::new(&self.scenario.receiver);
        let ear = self.sound.as_ref().map(|network| Ear::new(network, self.scenario));
        Ok(Run {
            bench: self,
            raster,
            transient: None,
            link,
            set,
            ear: ear.transpose()?,
            heard: Vec::new(),
            warm_up_fields: 0,
        })
    }

    fn start(&'a self, trains: &FieldTrains) -> Result<Transient<'a>, RunError> {
        // A field that repeats begins as it ends; an idle chip has all its pins at rest before.
        let before = match self.scenario.solve.start {
            Start::Idle => PulseTrain::initial,
            Start::Settled => PulseTrain::last_level,
        };
        let idle: Vec<Level> = trains.trains.iter().map(before).collect();
        let standing = self.network.operating_point(&idle)?;
        let spec = TransientSpec {
            clock: self.scenario.raster.timing.clock,
            samples_per_clock: self.scenario.solve.samples_per_clock,
            tolerance_v: self.scenario.solve.tolerance_v,
            taps: self.nodes.clone(),
        };
        let run = Transient::new(&self.network, &self.scenario.circuit, &standing, &idle, spec);
        Ok(match self.scenario.solve.reuse {
            Reuse::Stretches => run.with_recall(),
            Reuse::Nothing => run,
        })
    }
}

impl Run<'_> {
    /// The next field, reporting each stage as it is passed.
    ///
    /// # Errors
    ///
    /// A board that cannot be followed, or that does not settle; see [`NetworkError`].
    pub fn advance_field(&mut self, on_stage: &mut dyn FnMut(Stage)) -> Result<FieldRun, RunError> {
        let scenario = self.bench.scenario;
        let trains = self.raster.advance_field();
        on_stage(Stage::Raster);
        let samples = self.solve(&trains)?;
        on_stage(Stage::Network);
        let name = |node: NodeId| scenario.circuit.node_name(node).to_owned();
        let mut traces: Vec<Trace> = samples
            .into_iter()
            .zip(&self.bench.nodes)
            .map(|(volts, &node)| Trace { node: name(node), rate: self.bench.rate, volts })
            .collect();
        if let Some(ear) = &mut self.ear {
            self.heard.extend(ear.hear(self.raster.sound(), &traces[0])?);
        }
        if let Some(link) = &mut self.link {
            traces[0] = link.send(&traces[0])?;
        }
        let reception = self.set.receive(&traces[0])?;
        on_stage(Stage::Receiver);
        Ok(FieldRun { trains, traces, nodes: self.bench.nodes.clone(), reception })
    }

    /// The sound samples that are complete and were not taken yet, V; none without
    /// [`Bench::with_sound`]. They lag behind the fields by what the filter looks ahead.
    pub fn heard(&mut self) -> Vec<f32> {
        std::mem::take(&mut self.heard)
    }

    /// The rest of the sound, as if all stood still from here on.
    pub fn last_heard(&mut self) -> Vec<f32> {
        if let Some(ear) = &mut self.ear {
            self.heard.extend(ear.finish());
        }
        self.heard()
    }

    /// What began to sound with the field run last.
    #[must_use]
    pub fn event(&self) -> Option<Event> {
        self.raster.event()
    }

    fn solve(&mut self, trains: &FieldTrains) -> Result<Vec<Vec<f32>>, RunError> {
        if let Some(transient) = &mut self.transient {
            return Ok(transient.advance_field(&trains.trains)?);
        }
        let transient = self.transient.insert(self.bench.start(trains)?);
        match self.bench.scenario.solve.start {
            Start::Idle => Ok(transient.advance_field(&trains.trains)?),
            Start::Settled => {
                let (samples, fields) = transient.settle(&trains.trains)?;
                self.warm_up_fields = fields - 1;
                Ok(samples)
            }
        }
    }

    /// How many stretches from edge to edge were known already.
    #[must_use]
    pub fn recall_counts(&self) -> RecallCounts {
        self.transient.as_ref().map(Transient::recall_counts).unwrap_or_default()
    }

    /// Work done by the network so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.transient.as_ref().map(Transient::counts).unwrap_or_default()
    }
}

//! The ways of the elements as JSON for other programs.

use crate::analysis::why::Pulse;
use crate::analysis::why::Why;
use crate::analysis::why::edges::Edge;
use crate::analysis::why::ledger::Step;
use crate::base::math;
use crate::output::json::CauseReport;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::thousandth;
use crate::output::json::write;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

/// Writes them, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_why(all: &[Why], out: &mut impl Write) -> std::io::Result<()> {
    let elements = all.iter().map(ElementWay::new).collect();
    write(&WhyReport { format: FORMAT, elements }, out)
}

/// The report.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WhyReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// In the order asked; the sync among them.
    pub elements: Vec<ElementWay<'a>>,
}

/// One element, or the sync: lit is then in the pulse, and the words are those of a sync.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ElementWay<'a> {
    /// Its name.
    pub name: &'a str,
    /// Against black at the socket, at rest, mV.
    pub delta_mv: f64,
    /// The word.
    pub seen: &'static str,
    /// Words with a "weak", a "typical" and a "strong" chip; empty if all are the same.
    pub band: BTreeMap<&'static str, &'static str>,
    /// Pin strengths at which it is clear, multiples of those in hand: from, to.
    pub clear_strengths: Vec<[f64; 2]>,
    /// The cause, then what else would do by itself.
    pub causes: Vec<CauseReport>,
    /// The ledger.
    pub steps: Vec<StepReport<'a>>,
    /// The edges, by node.
    pub edges: Vec<EdgeReport<'a>>,
}

/// A line of the ledger.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepReport<'a> {
    /// The node.
    pub node: &'a str,
    /// With nothing lit, mV.
    pub unlit_mv: f64,
    /// With the element lit, mV.
    pub lit_mv: f64,
    /// What made it so.
    pub words: &'a str,
    /// What hangs there: in words, mA taken unlit and lit.
    pub hanging: Vec<(&'a str, f64, f64)>,
}

/// The edges at a node; null where there are none.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EdgeReport<'a> {
    /// The node.
    pub node: &'a str,
    /// The edge that lights the element.
    pub on: Option<EdgeFigures<'a>>,
    /// The edge that puts it out.
    pub off: Option<EdgeFigures<'a>>,
}

/// One edge.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EdgeFigures<'a> {
    /// From the chip's own edge to half of the pulse, ns.
    pub delay_ns: f64,
    /// 10 to 90 %, ns.
    pub time_ns: f64,
    /// Overshoot, %.
    pub overshoot_percent: f64,
    /// Jitter by noise, rms, ns.
    pub jitter_ns: f64,
    /// Transistor, what it is, and for how long, ns.
    pub waits: Vec<(&'a str, &'static str, f64)>,
}

impl<'a> ElementWay<'a> {
    fn new(why: &'a Why) -> Self {
        let causes = why.cause.iter().chain(&why.others);
        Self {
            name: &why.element,
            delta_mv: milli(why.delta_v),
            seen: why.word(why.seen),
            band: why.band.iter().map(|(pins, seen)| (pins.word(), why.word(*seen))).collect(),
            clear_strengths: why
                .strengths
                .iter()
                .map(|stretch| [thousandth(stretch.from), thousandth(stretch.to)])
                .collect(),
            causes: causes.map(CauseReport::new).collect(),
            steps: why.steps.iter().map(step).collect(),
            edges: why.pulses.iter().map(edges).collect(),
        }
    }
}

fn step(step: &Step) -> StepReport<'_> {
    // Microamperes and below, too, in milliamperes.
    let milliamps = |amps: f64| math::round(1e6 * 1e3 * amps) / 1e6;
    StepReport {
        node: &step.node,
        unlit_mv: milli(step.black_v),
        lit_mv: milli(step.lit_v),
        words: &step.words,
        hanging: step
            .pulls
            .iter()
            .map(|pull| (&*pull.words, milliamps(pull.black_amps), milliamps(pull.lit_amps)))
            .collect(),
    }
}

fn edges(pulse: &Pulse) -> EdgeReport<'_> {
    EdgeReport {
        node: &pulse.node,
        on: pulse.lead.as_ref().map(edge_figures),
        off: pulse.trail.as_ref().map(edge_figures),
    }
}

fn edge_figures(edge: &Edge) -> EdgeFigures<'_> {
    let nano = |seconds: f64| thousandth(1e9 * seconds);
    EdgeFigures {
        delay_ns: nano(edge.delay_s),
        time_ns: nano(edge.time_s),
        overshoot_percent: thousandth(100.0 * edge.overshoot),
        jitter_ns: nano(edge.jitter_s),
        waits: edge
            .waits
            .iter()
            .map(|wait| (wait.part.as_str(), wait.state.words(), nano(wait.time_s)))
            .collect(),
    }
}

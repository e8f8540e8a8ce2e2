//! The hunt as JSON for other programs.

use crate::analysis::hunt::Hunt;
use crate::analysis::hunt::Near;
use crate::analysis::hunt::Suspect;
use crate::analysis::hunt::confirm::InTime;
use crate::analysis::hunt::predict::State;
use crate::analysis::hunt::split::Split;
use crate::output::hunt_table::known_words;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::write;
use crate::scenario::Scenario;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

/// Writes the hunt, at most `most` suspects of it, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_hunt(
    scenario: &Scenario,
    hunt: &Hunt,
    most: usize,
    out: &mut impl Write,
) -> std::io::Result<()> {
    write(&HuntReport::new(scenario, hunt, most), out)
}

/// The hunt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HuntReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// Faults tried.
    pub tried: usize,
    /// How many of them have no levels that can be found.
    pub unsolved: usize,
    /// How many fit; the list may be shorter.
    pub fitting: usize,
    /// Likeliest first.
    pub suspects: Vec<SuspectReport<'a>>,
    /// The measurement that splits them best; absent if none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next: Option<NextReport<'a>>,
    /// The best that a meter can make, where that is another; absent if there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by_meter: Option<NextReport<'a>>,
    /// The nearest that do not fit.
    pub fell_out: Vec<FellOutReport<'a>>,
}

/// A fault that does not fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FellOutReport<'a> {
    /// In plain words.
    pub fault: &'a str,
    /// What speaks most against it.
    pub against: String,
    /// By how many deviations.
    pub deviations: f64,
}

/// A fault that fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SuspectReport<'a> {
    /// In plain words.
    pub fault: &'a str,
    /// Share of the likelihood of all that fit, 0 to 1.
    pub share: f64,
    /// The worst disagreement, in deviations.
    pub worst_deviations: f64,
    /// How common against other faults.
    pub common: f64,
    /// Whether no level tells it from the first.
    pub like_first: bool,
    /// What one field of it shows: "agrees", what else is seen, or "unsolved"; null if none was run.
    pub in_time: Option<String>,
    /// State to level at the socket at the pin strength that fits best, mV.
    pub socket_mv: BTreeMap<&'a str, f64>,
}

/// What to measure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextReport<'a> {
    /// Where.
    pub node: &'a str,
    /// "tip", "black" or what is lit.
    pub state: &'a str,
    /// Share of a field that the state lasts, 0 to 1.
    pub lasts: f64,
    /// "meter", or "scope" for a state that is too short for a meter.
    pub instrument: &'static str,
    /// Lowest and highest mV under each suspect, in their order.
    pub expected_mv: Vec<[f64; 2]>,
}

impl<'a> HuntReport<'a> {
    /// Fills the report.
    #[must_use]
    pub fn new(scenario: &'a Scenario, hunt: &'a Hunt, most: usize) -> Self {
        let suspects = hunt.suspects.iter().take(most);
        Self {
            format: FORMAT,
            tried: hunt.tried,
            unsolved: hunt.unsolved,
            fitting: hunt.suspects.len(),
            suspects: suspects.map(|suspect| suspect_report(scenario, suspect)).collect(),
            next: hunt.next.as_ref().map(|split| next_report(scenario, split, most)),
            by_meter: hunt.by_meter.as_ref().map(|split| next_report(scenario, split, most)),
            fell_out: hunt.near.iter().map(|near| fell_out(scenario, near)).collect(),
        }
    }
}

fn suspect_report<'a>(scenario: &'a Scenario, suspect: &'a Suspect) -> SuspectReport<'a> {
    let strength = suspect.fit.best_strength();
    let level = |state| milli(suspect.prediction.at(strength, state, scenario.output.node));
    let states = State::all(scenario).into_iter();
    SuspectReport {
        fault: &suspect.fault.name,
        share: suspect.share,
        worst_deviations: suspect.fit.worst,
        common: suspect.fault.weight,
        like_first: suspect.alike,
        in_time: suspect.in_time.as_ref().map(|in_time| match in_time {
            InTime::Agrees => "agrees".to_owned(),
            InTime::Differs(words) => words.join(", "),
            InTime::Unsolved => "unsolved".to_owned(),
        }),
        socket_mv: states.map(|state| (state.name(scenario), level(state))).collect(),
    }
}

fn fell_out<'a>(scenario: &Scenario, near: &'a Near) -> FellOutReport<'a> {
    let against = known_words(scenario, &near.against).trim_end_matches(',').to_owned();
    FellOutReport { fault: &near.fault, against, deviations: near.off }
}

fn next_report<'a>(scenario: &'a Scenario, split: &'a Split, most: usize) -> NextReport<'a> {
    let expected = split.expected.iter().take(most);
    NextReport {
        node: scenario.circuit.node_name(split.node),
        state: split.state.name(scenario),
        lasts: split.share,
        instrument: if split.needs_scope() { "scope" } else { "meter" },
        expected_mv: expected.map(|volts| volts.map(milli)).collect(),
    }
}

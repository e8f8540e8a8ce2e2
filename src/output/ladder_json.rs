//! The ladder as JSON for other programs.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::Ladder;
use crate::analysis::ladder::LadderLevel;
use crate::analysis::ladder::LoadLadder;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::SyncSide;
use crate::analysis::modulation::Modulation;
use crate::base::math;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::words;
use crate::output::json::write;
use crate::output::modulation_json::ModulationReport;
use crate::signal::element::ElementSet;
use serde::Serialize;
use serde::Serializer;
use std::io::Write;

/// Writes the ladder, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_ladder(
    ladder: &Ladder,
    modulation: Option<&Modulation>,
    out: &mut impl Write,
) -> std::io::Result<()> {
    let modulation = modulation.map(ModulationReport::new);
    write(&LadderReport { modulation, ..LadderReport::new(ladder) }, out)
}

/// The ladder.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LadderReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// Node of the socket.
    pub node: &'a str,
    /// One load after another, the scenario's own first.
    pub loads: Vec<LoadReport<'a>>,
    /// The carrier under the scenario's own load; absent without a modulator.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub modulation: Option<ModulationReport>,
}

/// A load of the ladder.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadReport<'a> {
    /// The load, Ω; whole numbers without a decimal point.
    #[serde(serialize_with = "plain")]
    pub load_ohm: f64,
    /// Every combination.
    pub levels: Vec<LevelReport<'a>>,
    /// Sync with nothing lit.
    pub sync: LadderSyncReport,
    /// Element name to verdict, in the chip's order.
    #[serde(serialize_with = "in_order")]
    pub elements: Vec<(&'a str, LadderElementReport)>,
}

/// A level of the ladder.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelReport<'a> {
    /// "picture" with sync released, "pulse" in the sync pulse.
    pub sync: &'static str,
    /// What is lit, in the chip's order.
    pub elements_on: Vec<&'a str>,
    /// Level at the socket, mV.
    pub mv: f64,
}

/// Sync in the ladder.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LadderSyncReport {
    /// Nothing lit, sync released, mV.
    pub black_mv: f64,
    /// Nothing lit, sync asserted, mV.
    pub tip_mv: f64,
    /// Black minus tip, mV.
    pub depth_mv: f64,
    /// "good", "weak" or "failing".
    pub state: &'static str,
}

/// An element alone on black.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LadderElementReport {
    /// Level minus black, mV.
    pub delta_mv: f64,
    /// "clear", "faint" or "missing".
    pub seen: &'static str,
    /// What else there is to say.
    pub notes: Vec<&'static str>,
}

impl<'a> LadderReport<'a> {
    /// Fills the ladder's report.
    #[must_use]
    pub fn new(ladder: &'a Ladder) -> Self {
        let loads = ladder.loads.iter().map(|load| load_report(&ladder.elements, load)).collect();
        Self { format: FORMAT, node: &ladder.node, loads, modulation: None }
    }
}

fn load_report<'a>(elements: &'a [String], load: &LoadLadder) -> LoadReport<'a> {
    let verdicts = elements.iter().map(String::as_str).zip(&load.elements);
    LoadReport {
        load_ohm: load.load_ohms,
        levels: load.levels.iter().map(|level| level_report(elements, level)).collect(),
        sync: ladder_sync(load.sync),
        elements: verdicts.map(|(name, level)| (name, ladder_element(level))).collect(),
    }
}

fn level_report<'a>(elements: &'a [String], level: &LadderLevel) -> LevelReport<'a> {
    let sync = match level.sync {
        SyncSide::Picture => "picture",
        SyncSide::Pulse => "pulse",
    };
    LevelReport { sync, elements_on: names(elements, level.on), mv: milli(level.volts) }
}

/// Names of the elements of a set, in the chip's order.
pub(crate) fn names(elements: &[String], set: ElementSet) -> Vec<&str> {
    set.iter()
        .filter_map(|element| elements.get(usize::from(element.0)))
        .map(String::as_str)
        .collect()
}

fn ladder_sync(sync: SyncLevels) -> LadderSyncReport {
    LadderSyncReport {
        black_mv: milli(sync.black_v),
        tip_mv: milli(sync.tip_v),
        depth_mv: milli(sync.depth_v),
        state: sync.state.word(),
    }
}

fn ladder_element(level: &ElementLevel) -> LadderElementReport {
    LadderElementReport {
        delta_mv: milli(level.delta_v),
        seen: level.seen.word(),
        notes: words(&level.notes),
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature serde asks for")]
fn plain<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    let whole = math::floor_index(*value);
    match u64::try_from(whole) {
        Ok(count) if math::from_u64(count).total_cmp(value).is_eq() => {
            serializer.serialize_u64(count)
        }
        _ => serializer.serialize_f64(*value),
    }
}

fn in_order<S: Serializer, V: Serialize>(
    entries: &[(&str, V)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_map(entries.iter().map(|(name, value)| (name, value)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::json::tests::read;
    use crate::output::sample;
    use serde_json::json;

    #[test]
    fn the_ladder_has_the_promised_shape() {
        let ladder = sample::ladder();
        let (text, value) = read(|out| write_ladder(&ladder, None, out));
        assert_eq!(value["format"], json!(1));
        assert_eq!(value["node"], json!("plug"));
        let load = &value["loads"][0];
        assert_eq!(load["load_ohm"], json!(75));
        assert_eq!(value["loads"][1]["load_ohm"], json!(37.5));
        assert_eq!(load["levels"][0], json!({"sync": "picture", "elements_on": [], "mv": 334.1}));
        let both = json!({"sync": "picture", "elements_on": ["field", "ball"], "mv": 1034.123});
        assert_eq!(load["levels"][3], both);
        assert_eq!(load["levels"][4]["sync"], json!("pulse"));
        let sync = json!({"black_mv": 334.1, "tip_mv": 34.1, "depth_mv": 300.0, "state": "good"});
        assert_eq!(load["sync"], sync);
        let notes = ["same shade as the field lines"];
        let ball = json!({"delta_mv": 690.0, "seen": "clear", "notes": notes});
        assert_eq!(load["elements"]["ball"], ball);
        // The chip's order, which here is not that of the alphabet.
        assert!(text.find("\"field\": {").unwrap() < text.find("\"ball\": {").unwrap());
        assert!(text.contains("\"load_ohm\": 75,") && text.ends_with("}\n"));
    }
}

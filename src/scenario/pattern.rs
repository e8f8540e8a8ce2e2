//! A chip described by patterns instead of a profile and a game: each pin is active in some blocks
//! of lines and clocks. For any chip, test signal or bench generator.

use crate::document::fields::Fields;
use crate::document::fields::as_table;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::tree::Entry;
use crate::document::tree::Table;
use crate::profile::NOMINAL_VOLTS;
use crate::profile::drive::Layer;
use crate::profile::limits;
use crate::profile::pins::SENSES;
use crate::profile::pins::default_sense;
use crate::profile::pins::element_id;
use crate::profile::timing;
use crate::raster::plan::Block;
use crate::raster::plan::Carries;
use crate::raster::plan::Content;
use crate::raster::plan::PinPlan;
use crate::raster::plan::RasterPlan;
use crate::scenario::chip::Body;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;
use crate::signal::element::Patch;
use crate::signal::element::Shape;
use crate::signal::timing::FieldTiming;

/// Keys of a pattern that say nothing about the output stage.
pub(crate) const PATTERN_KEYS: [&str; 3] = ["active", "role", "sense"];

/// The sync pin of a chip whose sync comes from its timing.
const SYNC: &str = "sync";
/// Most elements, as many as fit in a set.
const MOST_ELEMENTS: usize = 32;
/// Most blocks of one pattern.
const MOST_BLOCKS: usize = 10_000;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Role {
    Element,
    Sync,
}

const ROLES: [(&str, Role); 2] = [("element", Role::Element), ("sync", Role::Sync)];

struct Pattern {
    name: String,
    role: Role,
    blocks: Vec<Block>,
    drive: Table,
}

/// Reads `[chip.timing]`, `[chip.pattern.NAME]` and `[chip.drive]`.
pub(crate) fn read(chip: &Fields<'_>, game: Option<&Table>) -> Option<Body> {
    let problems = chip.problems();
    if let Some(game) = game {
        let message = "a chip that is driven by patterns plays no game".to_owned();
        problems.add(&game.span, message, "expected no `[game]`");
    }
    let nominal_volts = chip.quantity_or("nominal_supply", &POSITIVE_VOLTAGE, NOMINAL_VOLTS);
    let expected = "expected a table `[chip.timing]`";
    let timing = chip
        .needed("timing", expected, chip.table("timing"))
        .and_then(|table| timing::read(table, "[chip.timing]", problems));
    let common = chip.table("drive");
    let expected = "expected tables such as `[chip.pattern.ball]`";
    let patterns = chip.needed("pattern", expected, chip.table("pattern"))?;
    let timing = timing?;
    let read: Vec<Option<(Pattern, PinPlan)>> =
        patterns.entries.iter().map(|entry| pattern(chip, entry, &timing, common)).collect();
    let read = read.into_iter().collect::<Option<Vec<_>>>()?;
    at_most_one_sync(chip, &read)?;
    let mut body = body(read, timing);
    if body.raster.sync_blocks.is_none() {
        add_sync_pin(&mut body, common, chip);
    }
    Some(Body { nominal_volts, ..body })
}

fn pattern(
    chip: &Fields<'_>,
    entry: &Entry,
    timing: &FieldTiming,
    common: Option<&Table>,
) -> Option<(Pattern, PinPlan)> {
    let what = format!("pattern `{}`", entry.key);
    let table = as_table(&entry.item, &what, chip.problems())?;
    let fields = Fields::open(table, what, chip.problems());
    let role = fields.choice("role", &ROLES).unwrap_or(Role::Element);
    let sense = fields.choice("sense", &SENSES);
    let expected = "expected a list such as `[{ lines = [48, 52], clocks = [34, 112] }]`";
    let blocks = fields.needed("active", expected, fields.list("active", expected))?;
    if blocks.len() > MOST_BLOCKS {
        let message = format!("{} has more than {MOST_BLOCKS} blocks", fields.what());
        chip.problems().add(fields.place("active"), message, expected);
        return None;
    }
    let blocks: Vec<Option<Block>> = blocks
        .iter()
        .map(|item| {
            let table = as_table(item, "a block", chip.problems())?;
            block(&Fields::open(table, "a block", chip.problems()), timing, role)
        })
        .collect();
    let blocks = blocks.into_iter().collect::<Option<Vec<_>>>()?;
    let mut layers = Layer::default();
    for layer in [common, Some(table)].into_iter().flatten() {
        layers.put(layer);
    }
    let drive = layers.into_table(&table.span);
    let carries = match role {
        Role::Sync => Carries::Sync,
        Role::Element => Carries::Elements(ElementSet::EMPTY),
    };
    let sense = sense.unwrap_or(default_sense(&carries));
    let plan = PinPlan { name: entry.key.clone(), carries, sense };
    Some((Pattern { name: entry.key.clone(), role, blocks, drive }, plan))
}

/// Sync may lie anywhere; an element only where there is a picture.
fn block(fields: &Fields<'_>, timing: &FieldTiming, role: Role) -> Option<Block> {
    let expected = "expected `[first, one past the last]`";
    let lines = fields.needed("lines", expected, fields.range("lines", timing.lines_per_field));
    let clocks = fields.needed("clocks", expected, fields.range("clocks", timing.clocks_per_line));
    let (lines, clocks) = (lines?, clocks?);
    let blanked = lines.start < timing.first_active_line
        || clocks.start < timing.active_start
        || clocks.end > timing.active_stop;
    if role == Role::Element && blanked {
        let message = format!(
            "this block lies outside the picture: clocks {} to {}, from line {}",
            timing.active_start, timing.active_stop, timing.first_active_line
        );
        fields.problems().add(fields.span(), message, "expected it inside");
        return None;
    }
    for key in ["lines", "clocks"] {
        let _ = fields.entry(key);
    }
    Some(Block { lines, clocks })
}

fn at_most_one_sync(chip: &Fields<'_>, read: &[(Pattern, PinPlan)]) -> Option<()> {
    let elements = read.iter().filter(|(pattern, _)| pattern.role == Role::Element).count();
    let message = if read.len() - elements > 1 {
        "two patterns have the role of sync".to_owned()
    } else if elements > MOST_ELEMENTS {
        format!("there are more than {MOST_ELEMENTS} patterns")
    } else if read.iter().any(|(pattern, _)| pattern.name == SYNC && pattern.role == Role::Element)
    {
        "a pattern called `sync` has to have `role = \"sync\"`".to_owned()
    } else {
        return Some(());
    };
    chip.problems().add(chip.place("pattern"), message, "expected at most one sync pattern");
    None
}

fn body(read: Vec<(Pattern, PinPlan)>, timing: FieldTiming) -> Body {
    let mut map = ElementMap::default();
    let mut sync_blocks = None;
    let mut pins = Vec::new();
    let mut drives = Vec::new();
    for (pattern, mut plan) in read {
        if pattern.role == Role::Sync {
            sync_blocks = Some(pattern.blocks);
        } else {
            let element = element_id(map.elements.len());
            plan.carries = Carries::Elements(ElementSet::only(element));
            map.patches.extend(patches(&pattern.blocks, map.shapes.len()));
            map.shapes.push(Shape { name: pattern.name.clone(), element });
            map.elements.push(pattern.name);
        }
        pins.push(plan);
        drives.push(pattern.drive);
    }
    map.patches.sort();
    let elements = map.elements.clone();
    let content = Content::Pattern(map);
    let raster = RasterPlan { timing, elements, pins, sync_blocks, content };
    let specimens = Vec::new();
    let (nominal_volts, draw_amps) = (NOMINAL_VOLTS, 0.0);
    Body { raster, drives, specimens, nominal_volts, draw_amps, limits: limits::USUAL }
}

/// The runs of some blocks, joined where they touch or overlap.
fn patches(blocks: &[Block], shape: usize) -> Vec<Patch> {
    let mut runs: Vec<Patch> = blocks
        .iter()
        .flat_map(|block| {
            let (start, stop) = (block.clocks.start, block.clocks.end);
            block.lines.clone().map(move |line| Patch { line, start, stop, shape })
        })
        .collect();
    runs.sort();
    let mut joined: Vec<Patch> = Vec::new();
    for run in runs {
        match joined.last_mut() {
            Some(last) if last.line == run.line && run.start <= last.stop => {
                last.stop = last.stop.max(run.stop);
            }
            _ => joined.push(run),
        }
    }
    joined
}

/// Sync comes from the timing on a pin of that name.
fn add_sync_pin(body: &mut Body, common: Option<&Table>, chip: &Fields<'_>) {
    let plan = PinPlan {
        name: SYNC.to_owned(),
        carries: Carries::Sync,
        sense: default_sense(&Carries::Sync),
    };
    body.raster.pins.insert(0, plan);
    let empty = Table { entries: Vec::new(), span: chip.span().clone() };
    body.drives.insert(0, common.cloned().unwrap_or(empty));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlapping_blocks_of_one_pattern_are_one_run() {
        let block = |lines, clocks| Block { lines, clocks };
        let joined = patches(&[block(2..4, 10..20), block(3..4, 15..30), block(3..4, 40..50)], 0);
        let runs: Vec<(u32, u32, u32)> =
            joined.iter().map(|patch| (patch.line, patch.start, patch.stop)).collect();
        assert_eq!(runs, [(2, 10, 20), (3, 10, 30), (3, 40, 50)]);
    }
}

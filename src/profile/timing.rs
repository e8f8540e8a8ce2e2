//! The `[timing]` of a profile, or of a chip that is driven by patterns.

use crate::base::ticks::ClockRate;
use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::Quantity;
use crate::document::tree::Table;
use crate::signal::timing::FieldSync;
use crate::signal::timing::FieldTiming;

/// A chip's clock, Hz.
pub const CLOCK: Quantity = FREQUENCY.within(1e5, 1e8);
/// Most clocks in a line.
const MOST_CLOCKS: u32 = 4096;
/// Most lines in a field.
const MOST_LINES: u32 = 2000;

/// Reads and checks a timing.
#[must_use]
pub fn read(table: &Table, what: &str, problems: &Problems) -> Option<FieldTiming> {
    let fields = Fields::open(table, what, problems);
    let clock = fields.needed("clock", &CLOCK.expected(), fields.ratio("clock", &CLOCK));
    let clocks_per_line = fields.needed_count("clocks_per_line", 16..=MOST_CLOCKS);
    let lines_per_field = fields.needed_count("lines", 20..=MOST_LINES);
    let line_sync = fields.needed_count("sync", 1..=MOST_CLOCKS);
    let active = active(&fields, clocks_per_line, line_sync);
    let field_sync = field_sync(&fields, clocks_per_line);
    let field_sync_lines = fields.count("field_sync_lines", 1..=100).unwrap_or(4);
    let first_active_line = fields.needed_count("first_active_line", 1..=MOST_LINES);
    let checked = lines_agree(&fields, lines_per_field, field_sync_lines, first_active_line);
    fields.close();
    let (numerator, denominator) = clock?;
    let (active_start, active_stop) = active?;
    checked?;
    Some(FieldTiming {
        clock: ClockRate::new(numerator, denominator)?,
        clocks_per_line: clocks_per_line?,
        lines_per_field: lines_per_field?,
        line_sync: line_sync?,
        active_start,
        active_stop,
        field_sync: field_sync?,
        field_sync_lines,
        first_active_line: first_active_line?,
    })
}

/// The active line, from `active = [start, stop]` or from the two porches.
fn active(fields: &Fields<'_>, clocks: Option<u32>, sync: Option<u32>) -> Option<(u32, u32)> {
    if fields.entry("active").is_some() {
        let active = fields.range("active", clocks.unwrap_or(MOST_CLOCKS))?;
        if sync? > active.start {
            let message = format!(
                "line sync is {} clocks long, past the start of the active line at clock {}",
                sync?, active.start
            );
            let expected = "expected sync to end before the picture begins";
            fields.problems().add(fields.place("sync"), message, expected);
            return None;
        }
        return Some((active.start, active.end));
    }
    let back = fields.needed_count("back_porch", 0..=MOST_CLOCKS);
    let front = fields.needed_count("front_porch", 0..=MOST_CLOCKS);
    let (clocks, sync, back, front) = (clocks?, sync?, back?, front?);
    if sync + back + front >= clocks {
        let message = format!(
            "sync, back porch and front porch take {} of the {clocks} clocks of a line",
            sync + back + front
        );
        let expected = "expected room for a picture between the porches";
        fields.problems().add(fields.place("sync"), message, expected);
        return None;
    }
    Some((sync + back, clocks - front))
}

fn field_sync(fields: &Fields<'_>, clocks: Option<u32>) -> Option<FieldSync> {
    let half = clocks.unwrap_or(MOST_CLOCKS) / 2;
    let gap = fields.count("field_sync_gap", 1..=half - 1);
    let forms = [
        ("held", FieldSync::Held),
        ("inverted", FieldSync::Inverted),
        ("broad", FieldSync::Broad { gap: gap.unwrap_or_default() }),
    ];
    let form = fields.needed_choice("field_sync", &forms)?;
    match (form, gap) {
        (FieldSync::Broad { .. }, None) => {
            fields.needed::<()>("field_sync_gap", "expected the clocks between broad pulses", None);
            None
        }
        (FieldSync::Held | FieldSync::Inverted, Some(_)) => {
            let message = "only broad pulses have a gap".to_owned();
            let expected = "expected `field_sync = \"broad\"` with it";
            fields.problems().add(fields.place("field_sync_gap"), message, expected);
            None
        }
        _ => Some(form),
    }
}

fn lines_agree(
    fields: &Fields<'_>,
    lines: Option<u32>,
    sync_lines: u32,
    first_active: Option<u32>,
) -> Option<()> {
    let (lines, first_active) = (lines?, first_active?);
    let message = if first_active >= lines {
        format!("the picture begins at line {first_active} of a field of {lines} lines")
    } else if sync_lines > first_active {
        format!("field sync of {sync_lines} lines runs into the picture, from line {first_active}")
    } else {
        return Some(());
    };
    let expected = "expected field sync, then blank lines, then the picture";
    fields.problems().add(fields.place("first_active_line"), message, expected);
    None
}

//! Where sync is asserted.

use crate::raster::plan::Block;
use crate::raster::plan::RasterPlan;
use crate::signal::timing::FieldSync;
use crate::signal::timing::FieldTiming;
use std::ops::Range;

/// For every line of a field, the clocks in which sync is asserted; blocks may overlap.
pub(super) fn asserted(plan: &RasterPlan) -> Vec<Vec<Range<u32>>> {
    let lines = 0..plan.timing.lines_per_field;
    match &plan.sync_blocks {
        Some(blocks) => lines.map(|line| from_blocks(blocks, line)).collect(),
        None => lines.map(|line| from_timing(&plan.timing, line)).collect(),
    }
}

fn from_blocks(blocks: &[Block], line: u32) -> Vec<Range<u32>> {
    let here = blocks.iter().filter(|block| block.lines.contains(&line));
    here.map(|block| block.clocks.clone()).collect()
}

fn from_timing(timing: &FieldTiming, line: u32) -> Vec<Range<u32>> {
    let (pulse, end) = (timing.line_sync, timing.clocks_per_line);
    // A line with an odd number of clocks has the longer half last.
    let half = end / 2;
    match timing.field_sync {
        _ if line >= timing.field_sync_lines => span(0, pulse),
        FieldSync::Held => span(0, end),
        FieldSync::Inverted => span(pulse, end),
        FieldSync::Broad { gap } => vec![0..half - gap, half..end - gap],
    }
}

fn span(start: u32, stop: u32) -> Vec<Range<u32>> {
    std::iter::once(start..stop).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::example;

    /// Whether sync is asserted, clock by clock, over a whole field.
    fn clocks(plan: &RasterPlan) -> Vec<bool> {
        let width = plan.timing.clocks_per_line;
        let line = |ranges: Vec<Range<u32>>| {
            (0..width).map(move |clock| ranges.iter().any(|range| range.contains(&clock)))
        };
        asserted(plan).into_iter().flat_map(line).collect()
    }

    fn with_form(field_sync: FieldSync) -> RasterPlan {
        let mut plan = example::plan();
        plan.timing.field_sync = field_sync;
        plan
    }

    /// Compares every clock of the field with a rule for the clocks of field sync lines.
    fn assert_form(field_sync: FieldSync, rule: impl Fn(usize) -> bool) {
        let found = clocks(&with_form(field_sync));
        assert_eq!(found.len(), 312 * 128);
        for (tick, asserted) in found.into_iter().enumerate() {
            let (line, clock) = (tick / 128, tick % 128);
            let expected = if line < 4 { rule(clock) } else { clock < 9 };
            assert_eq!(asserted, expected, "line {line}, clock {clock}");
        }
    }

    #[test]
    fn held_field_sync_is_four_whole_lines() {
        assert_form(FieldSync::Held, |_| true);
    }

    #[test]
    fn inverted_field_sync_is_released_for_nine_clocks_a_line() {
        assert_form(FieldSync::Inverted, |clock| clock >= 9);
    }

    #[test]
    fn broad_pulses_fill_half_lines_but_for_their_gaps() {
        assert_form(FieldSync::Broad { gap: 5 }, |clock| clock % 64 < 59);
    }

    #[test]
    fn blocks_replace_line_and_field_sync() {
        let mut plan = example::plan();
        let block = |lines, clocks| Block { lines, clocks };
        plan.sync_blocks = Some(vec![block(0..2, 0..100), block(1..3, 90..110)]);
        for (tick, asserted) in clocks(&plan).into_iter().enumerate() {
            let (line, clock) = (tick / 128, tick % 128);
            let expected = match line {
                0 => clock < 100,
                1 => clock < 110,
                2 => (90..110).contains(&clock),
                _ => false,
            };
            assert_eq!(asserted, expected, "line {line}, clock {clock}");
        }
    }
}

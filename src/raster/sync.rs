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

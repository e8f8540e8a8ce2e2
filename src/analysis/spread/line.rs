//! Levels read off one line in time.

use crate::analysis::board_levels::BoardLevels;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::element_levels;
use crate::base::math;
use crate::scenario::Scenario;
use crate::simulate::line::Line;
use std::ops::Range;

/// Clocks after a pulse that may still be on its way down.
const TAIL: u32 = 2;

/// Puts what a line shows in the place of standing levels: tip in the second half of the sync pulse,
/// black where nothing is lit and nothing was two clocks before, elements at the furthest that they
/// come from black, from their first clock to one after their last. What the line does not show keeps
/// its standing level above the line's black.
pub(super) fn read(scenario: &Scenario, line: &Line, volts: &[f32], levels: &mut BoardLevels) {
    let per_clock = scenario.solve.samples_per_clock;
    let samples = |clocks: Range<u32>| {
        let at = |clock: u32| math::to_index(u64::from(clock * per_clock)).min(volts.len());
        volts[at(clocks.start)..at(clocks.end)].iter().map(|&volts| f64::from(volts))
    };
    let timing = &line.timing;
    let sync = timing.line_sync;
    let tip_v = math::median(samples(sync / 2..sync).collect()).unwrap_or(levels.sync.tip_v);
    let patches = line.map.line(line.number);
    let is_dark =
        |clock: &u32| patches.iter().all(|patch| !(patch.start..patch.stop + TAIL).contains(clock));
    let active = timing.active_start..timing.active_stop;
    let dark = active.filter(is_dark).flat_map(|clock| samples(clock..clock + 1));
    let black_v = math::median(dark.collect()).unwrap_or(levels.sync.black_v);
    let mut deltas: Vec<f64> = levels.elements.iter().map(|element| element.delta_v).collect();
    for (index, delta) in deltas.iter_mut().enumerate() {
        let own = patches
            .iter()
            .filter(|patch| usize::from(line.map.shapes[patch.shape].element.0) == index);
        let peak = |from: u32, to: u32| {
            samples(from..to + 1)
                .map(|volts| volts - black_v)
                .fold(0.0, |best: f64, next| if next.abs() > best.abs() { next } else { best })
        };
        let peaks = own.map(|patch| peak(patch.start, patch.stop));
        if let Some(least) = peaks.min_by(|a, b| a.abs().total_cmp(&b.abs())) {
            *delta = least;
        }
    }
    levels.sync = SyncLevels::new(scenario, black_v, tip_v);
    levels.elements = element_levels(scenario, &deltas);
}

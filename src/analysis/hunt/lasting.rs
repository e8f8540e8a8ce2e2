//! How long each state lasts in a field: what a meter, which shows the mean, can read.

use crate::analysis::hunt::predict::State;
use crate::base::math;
use crate::raster::generate::Raster;
use crate::scenario::Scenario;

/// A state that lasts at least this share of a field is what a meter shows, near enough; common
/// practice, no source. A shorter one takes a scope: a paddle lasts a thousandth of a field.
pub const METER_SHARE: f64 = 0.8;

/// Share of the first field that each state lasts, by [`State::index`], 0 to 1; black is what is
/// left by the sync and by all elements. A chip whose plan cannot be drawn has no lasting state.
#[must_use]
pub fn shares(scenario: &Scenario) -> Vec<f64> {
    let states = State::all(scenario);
    let mut shares = vec![0.0; states.len()];
    let Ok(mut raster) = Raster::new(&scenario.raster) else { return shares };
    let field = raster.advance_field();
    let timing = &field.timing;
    let all = |clocks: u64, lines: u32| clocks * u64::from(lines);
    // Through field sync the pulse is asserted for nearly all of the line.
    let (pulse, line) = (u64::from(timing.line_sync), u64::from(timing.clocks_per_line));
    let field_sync = timing.field_sync_lines.min(timing.lines_per_field);
    let clocks = all(pulse, timing.lines_per_field - field_sync)
        + all(line.saturating_sub(pulse), field_sync);
    let share = |clocks: u64| math::from_u64(clocks) / math::from_u64(timing.clocks_per_field());
    shares[State::Tip.index()] = share(clocks);
    for patch in &field.map.patches {
        let element = field.map.shapes[patch.shape].element;
        shares[State::Lit(element).index()] += share(u64::from(patch.stop - patch.start));
    }
    let others: f64 = shares.iter().sum();
    shares[State::Black.index()] = (1.0 - others).max(0.0);
    shares
}

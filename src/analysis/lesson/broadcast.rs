//! What the broadcast standards say of a line and a field, to be set beside a game's own.

use crate::analysis::clock::Counts;
use crate::scenario::set_library::Standard;
use crate::signal::timing::FieldTiming;

/// A value with the range in which it may lie, if one is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// As it should be.
    pub value: f64,
    /// Least and greatest.
    pub range: Option<[f64; 2]>,
}

/// A standard's line and field.
///
/// # Units
///
/// Microseconds at half amplitude, volts across 75 Ω, lines, hertz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Broadcast {
    /// How it is cited.
    pub source: &'static str,
    /// A line.
    pub line_us: f64,
    /// Line sync.
    pub sync_us: Stated,
    /// Front porch.
    pub front_porch_us: Stated,
    /// Back porch.
    pub back_porch_us: Stated,
    /// Line blanking: both porches and the pulse.
    pub blanking_us: Stated,
    /// Sync pulse below black.
    pub depth_v: f64,
    /// White above black.
    pub white_v: f64,
    /// Lines in a field.
    pub field_lines: f64,
    /// Lines of broad pulses that mark a field.
    pub field_sync_lines: f64,
    /// Fields a second.
    pub field_hz: f64,
}

const fn plain(value: f64) -> Stated {
    Stated { value, range: None }
}

const fn within(value: f64, low: f64, high: f64) -> Stated {
    Stated { value, range: Some([low, high]) }
}

/// # Source
///
/// ITU-R BT.470, tables 1 and 1-1, systems B and G, as summed up by an author of its tables; the back
/// porch is what blanking leaves. 300 mV of sync below 700 mV of white: 43 % of it.
const LINES_625: Broadcast = Broadcast {
    source: "ITU-R BT.470, systems B and G",
    line_us: 64.0,
    sync_us: within(4.7, 4.5, 4.9),
    front_porch_us: within(1.5, 1.2, 1.8),
    back_porch_us: plain(5.8),
    blanking_us: within(12.0, 11.7, 12.3),
    depth_v: 0.3,
    white_v: 0.7,
    field_lines: 312.5,
    field_sync_lines: 2.5,
    field_hz: 50.0,
};

/// # Source
///
/// ITU-R BT.470, tables 1 and 1-1, system M, as summed up by an author of its tables; the back porch
/// is what blanking leaves. 40 and 100 IRE of the 140 that make 1 V.
const LINES_525: Broadcast = Broadcast {
    source: "ITU-R BT.470, system M",
    line_us: 63.5556,
    sync_us: within(4.7, 4.6, 4.8),
    front_porch_us: within(1.5, 1.27, 2.22),
    back_porch_us: plain(4.7),
    blanking_us: within(10.9, 10.7, 11.1),
    depth_v: 40.0 / 140.0,
    white_v: 100.0 / 140.0,
    field_lines: 262.5,
    field_sync_lines: 3.0,
    field_hz: 59.94,
};

/// The standard to which a chip's fields come nearest.
#[must_use]
pub fn nearest(timing: &FieldTiming) -> &'static Broadcast {
    match Counts::from(timing).standard() {
        Standard::Lines625 => &LINES_625,
        Standard::Lines525 => &LINES_525,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_of_blanking_add_up_and_a_line_goes_with_the_line_rate() {
        for (all, standard) in [(LINES_625, Standard::Lines625), (LINES_525, Standard::Lines525)] {
            let parts = all.front_porch_us.value + all.sync_us.value + all.back_porch_us.value;
            assert!((parts - all.blanking_us.value).abs() < 1e-9);
            assert!((all.line_us * standard.line_hz() / 1e6 - 1.0).abs() < 1e-5);
            assert!((standard.line_hz() / all.field_lines / all.field_hz - 1.0).abs() < 1e-4);
        }
    }
}

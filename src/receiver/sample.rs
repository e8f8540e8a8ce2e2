//! A set for the tests: it receives 50 fields of 312 lines a second.

use crate::receiver::field_oscillator::FieldLoop;
use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Transfer;
use crate::receiver::spec::Viewing;

/// Clamped on the back porch, a screen by BT.1886 in the dark.
pub(crate) fn set() -> ReceiverSpec {
    ReceiverSpec {
        line_hz: 15_625.0,
        field_hz: 46.0,
        line_loop: LineLoop { natural_hz: 1e3, damping: 0.8, gain: 20e3, swing_s: 3.6e-6 },
        field_loop: FieldLoop { highest_hz: 64.5, integrator_s: 100e-6, slice: 0.3 },
        nominal_line_hz: 15_625.0,
        demands: Vec::new(),
        coupling_hz: None,
        clamp: Clamp::BackPorch,
        slice: 0.5,
        bandwidth_hz: 5e6,
        span_v: 0.7,
        contrast: 1.0,
        brightness: 0.0,
        transfer: Transfer::Bt1886 { black: 0.0 },
        overscan: 0.0,
        active_start_s: 10.5e-6,
        active_s: 52e-6,
        first_line: 24,
        shown_lines: 288,
        frame: (768, 576),
        viewing: Viewing { white: 100.0, room_lux: 0.0, reflection: 0.0, noise_v: 1e-3 },
    }
}

//! How far a junction's voltage may move in one Newton iteration.
//!
//! An exponential defeats plain Newton: from far below, the next point lies volts too high. So a
//! junction is evaluated no further from where it was than its current can be trusted, and its
//! tangent is used from there.

use crate::base::math;
use crate::network::device::Breakdown;
use crate::network::device::STRAIGHT_FROM;
use crate::network::device::junction_knee;

/// The junction voltages of the last evaluation, from which the next may move only so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Junctions {
    volts: Vec<f64>,
    next: usize,
}

/// Where and how steeply a junction turns on, forwards and perhaps backwards.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Turn {
    forward: Bend,
    reverse: Option<Bend>,
}

/// One bend of a junction's curve.
#[derive(Clone, Copy, Debug)]
struct Bend {
    /// See [`junction_knee`], V.
    knee: f64,
    /// Scale of the exponential, V.
    vt: f64,
    /// Where the curve goes on as a straight line, V.
    straight: f64,
}

impl Turn {
    /// Of a junction with this saturation current and scale.
    pub(crate) fn of(saturation_current: f64, vt: f64) -> Self {
        let (knee, straight) = (junction_knee(saturation_current, vt), STRAIGHT_FROM * vt);
        Self { forward: Bend { knee, vt, straight }, reverse: None }
    }

    /// The same with breakdown.
    pub(crate) fn with_reverse(self, breakdown: &Breakdown) -> Self {
        let vt = breakdown.slope_volts;
        let straight = breakdown.volts + STRAIGHT_FROM * vt;
        Self { reverse: Some(Bend { knee: breakdown.knee(), vt, straight }), ..self }
    }
}

impl Bend {
    /// `asked`, or as far on the way there from `place` as an exponential allows.
    #[inline]
    fn approach(self, place: f64, asked: f64) -> f64 {
        let Self { knee, vt, straight } = self;
        let is_near = (asked - place).abs() <= 2.0 * vt;
        if asked <= knee || is_near || place.min(asked) >= straight {
            asked
        } else {
            self.approach_far(place, asked)
        }
    }

    fn approach_far(self, place: f64, asked: f64) -> f64 {
        let Self { knee, vt, .. } = self;
        let ahead = (asked - place) / vt;
        if place <= knee - 2.0 * vt {
            knee
        } else {
            place + vt * (1.0 + math::ln(ahead.abs())).copysign(ahead)
        }
    }
}

impl Junctions {
    /// Takes new voltages to start from.
    pub(crate) fn start_from(&mut self, volts: impl Iterator<Item = f64>) {
        self.volts.clear();
        self.volts.extend(volts);
    }

    /// Forgets them: the next evaluation takes every junction where it is asked for.
    pub(crate) fn forget(&mut self) {
        self.volts.clear();
    }

    /// Begins an evaluation; the junctions are then asked for one after another.
    pub(crate) fn rewind(&mut self) {
        self.next = 0;
    }

    /// Where the next junction was: at `asked` if that is not known.
    #[inline]
    fn place(&mut self, asked: f64) -> &mut f64 {
        if self.next == self.volts.len() {
            self.volts.push(asked);
        }
        self.next += 1;
        &mut self.volts[self.next - 1]
    }

    /// The next voltage, which has its corner at 0 V: moved to `asked`, or to the corner if that
    /// lies between.
    pub(crate) fn approach_corner(&mut self, asked: f64) -> f64 {
        let place = self.place(asked);
        *place = if *place * asked < 0.0 { 0.0 } else { asked };
        *place
    }

    /// The next junction's voltage, moved towards `asked` no further than an exponential allows:
    /// above the knee by the logarithm of what is asked for.
    #[inline]
    pub(crate) fn approach(&mut self, asked: f64, turn: &Turn) -> f64 {
        let place = self.place(asked);
        *place = match &turn.reverse {
            Some(reverse) if asked < 0.0 => -reverse.approach(-*place, -asked),
            _ => turn.forward.approach(*place, asked),
        };
        *place
    }
}

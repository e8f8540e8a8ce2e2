//! A set's settings, and what it reports.

use crate::receiver::demands::Answer;
use crate::receiver::demands::Demand;
use crate::receiver::field_oscillator::FieldLoop;
use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::lock::Lock;
use crate::signal::picture::Picture;
use crate::signal::trace::Trace;

/// A receiver, resolved.
#[derive(Clone, Debug, PartialEq)]
pub struct ReceiverSpec {
    /// Line rate at which the set would run without sync, Hz.
    pub line_hz: f64,
    /// Field rate at which the set would run without sync, Hz.
    pub field_hz: f64,
    /// How the line oscillator is held in step.
    pub line_loop: LineLoop,
    /// How the field oscillator is triggered.
    pub field_loop: FieldLoop,
    /// Line rate of its standard, Hz.
    pub nominal_line_hz: f64,
    /// What it asks of a signal before it shows anything; nothing for a tube.
    pub demands: Vec<Demand>,
    /// High-pass corner of the input coupling, Hz; `None` for a direct-coupled input.
    pub coupling_hz: Option<f64>,
    /// How black is restored.
    pub clamp: Clamp,
    /// Share of the sync depth, above the tip, at which line sync is sliced, 0 to 1.
    pub slice: f64,
    /// Video bandwidth, −3 dB, Hz.
    pub bandwidth_hz: f64,
    /// Volts from black to white at contrast 1, V.
    pub span_v: f64,
    /// Gain of the picture amplifier, 1 = nominal.
    pub contrast: f64,
    /// Added to the picture as a share of the span, 0 = black shown as black.
    pub brightness: f64,
    /// Light against drive.
    pub transfer: Transfer,
    /// Share of the picture's width and height that lies behind the mask; 0 shows all of it.
    pub overscan: f64,
    /// Start of the shown line, s after the leading edge of line sync, before overscan.
    pub active_start_s: f64,
    /// Length of the shown line, s, before overscan.
    pub active_s: f64,
    /// First shown line after the start of field sync, before overscan.
    pub first_line: u32,
    /// Number of shown lines, before overscan.
    pub shown_lines: u32,
    /// Size of the frame, pixels; 4:3.
    pub frame: (usize, usize),
    /// The light it is seen by, and its noise.
    pub viewing: Viewing,
}

/// Under what light a picture is seen, and how much noise the set adds. Nothing of it is drawn into
/// the frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Viewing {
    /// Luminance of white, cd/m².
    pub white: f64,
    /// Illuminance of the screen by the room, lx.
    pub room_lux: f64,
    /// Share of the room's light that the screen sends back.
    pub reflection: f64,
    /// Noise of the set, rms over its video bandwidth, at its input, V.
    pub noise_v: f64,
}

impl Viewing {
    /// Luminance that the room adds to every part of the screen, cd/m².
    ///
    /// # Source
    ///
    /// A matt surface of reflectance ρ under E lux: L = ρ E / π, any text on photometry.
    #[must_use]
    pub fn room(&self) -> f64 {
        self.reflection * self.room_lux / std::f64::consts::PI
    }
}

/// DC restoration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clamp {
    /// The tip is held; black is taken at the nominal sync depth above it.
    SyncTip,
    /// The back porch of each line is black.
    BackPorch,
    /// None: black is 0 V as it arrives (after AC coupling, the mean).
    None,
}

/// Display transfer: relative luminance from drive, both 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Transfer {
    /// ITU-R BT.1886 with black luminance as a share of white.
    Bt1886 {
        /// Black luminance over white luminance.
        black: f64,
    },
    /// A plain power of the drive.
    Gamma(f64),
}

/// Where lines and fields start. Times are on the trace's own time axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TimeBase {
    /// Start of each field, s.
    pub field_starts_s: Vec<f64>,
    /// Start of every line, rising, s.
    pub line_starts_s: Vec<f64>,
}

impl TimeBase {
    /// The same on the axis of a waveform that begins `duration_s` later.
    #[must_use]
    pub(super) fn earlier(&self, duration_s: f64) -> Self {
        let moved = |times_s: &[f64]| times_s.iter().map(|time_s| time_s - duration_s).collect();
        Self {
            field_starts_s: moved(&self.field_starts_s),
            line_starts_s: moved(&self.line_starts_s),
        }
    }

    /// This and what comes after it.
    #[must_use]
    pub(super) fn with(&self, later: &Self) -> Self {
        Self {
            field_starts_s: [&self.field_starts_s[..], &later.field_starts_s].concat(),
            line_starts_s: [&self.line_starts_s[..], &later.line_starts_s].concat(),
        }
    }
}

/// Sync as the separator found it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SyncMeasure {
    /// Sync tip, V at the input.
    pub tip_v: f64,
    /// Back porch, V at the input.
    pub porch_v: f64,
    /// Slicing level, V at the input.
    pub slice_v: f64,
    /// Line period, s: the mean of the intervals near the median one.
    pub line_period_s: f64,
    /// Median width of line sync at the slicing level, s.
    pub line_sync_s: f64,
}

/// What the set made of a waveform.
#[derive(Clone, Debug, PartialEq)]
pub struct Reception {
    /// The band-limited waveform as the picture amplifier sees it, V, same rate as the input,
    /// black at 0 after the clamp. Delayed by `delay_s` against the input.
    pub video: Trace,
    /// Delay of the video filter, s; the time base below already contains it.
    pub delay_s: f64,
    /// Sync, if the separator found any.
    pub sync: Option<SyncMeasure>,
    /// Where lines and fields start by the sync itself, measured or coasted, on the axis of `video`:
    /// by this the waveform is read. Without sync: at the set's own rates.
    pub time_base: TimeBase,
    /// Where the set's own lines start and its fields turn, on the same axis: by this the picture is
    /// scanned.
    pub own_base: TimeBase,
    /// How well the set keeps in step.
    pub lock: Lock,
    /// What the set asks of the signal, and what that has.
    pub answers: Vec<Answer>,
    /// The screen.
    pub picture: Picture,
}

impl Reception {
    /// Whether the set shows no picture, since the signal has not what it asks.
    #[must_use]
    pub fn refused(&self) -> bool {
        self.answers.iter().any(Answer::refuses)
    }
}

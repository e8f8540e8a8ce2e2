//! The kinds of set, and the standards they are made for: what `[receiver]` begins with, and what
//! `clock` says that a set follows.

use crate::receiver::field_oscillator::FieldLoop;
use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Transfer;
use crate::receiver::spec::Viewing;
use crate::scenario::demands::DEMANDS;

/// A scanning standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standard {
    /// 15 625 lines and 50 fields a second.
    Lines625,
    /// 15 734.264 lines and 59.94 fields a second.
    Lines525,
}

/// Both.
pub const STANDARDS: [Standard; 2] = [Standard::Lines625, Standard::Lines525];

impl Standard {
    /// Lines a second.
    ///
    /// # Source
    ///
    /// ITU-R BT.470 prints both; the second is 4.5 MHz / 286, which is 0.0017 Hz more.
    #[must_use]
    pub const fn line_hz(self) -> f64 {
        match self {
            Self::Lines625 => 15_625.0,
            Self::Lines525 => 15_734.264,
        }
    }

    /// The one that fields at such a rate belong to: sets tell 50 from 60 Hz at 55 to 57 Hz.
    ///
    /// # Source
    ///
    /// Maker's data of a deflection processor.
    #[must_use]
    pub fn of_fields(field_hz: f64) -> Self {
        const BETWEEN_HZ: f64 = 55.0;
        if field_hz > BETWEEN_HZ { Self::Lines525 } else { Self::Lines625 }
    }

    /// What it is called.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Lines625 => "625",
            Self::Lines525 => "525",
        }
    }
}

/// A kind of set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Of the 1970s.
    TubeSet,
    /// With a deflection processor.
    LateTubeSet,
    /// With a video input.
    Monitor,
    /// Makes its picture from numbers.
    FlatPanel,
}

/// All of them, in the order in which they are told.
pub const KINDS: [Kind; 4] = [Kind::TubeSet, Kind::LateTubeSet, Kind::Monitor, Kind::FlatPanel];

/// How far a line oscillator that somebody has set runs from its standard's rate: none left alone is
/// exact, so that a picture without sync leans. Common practice, no source; a maker's data of a
/// deflection processor allows 2 % if nobody has.
const FREE_RUN_ERROR: f64 = -0.0005;
/// Black of a good tube over its white; common practice, no source.
const TUBE_BLACK: f64 = 0.001;

/// White of 100 cd/m²: the example of ITU-R BT.1886. A living room in the evening, 50 lx, a tube's
/// face that sends back 3 % of it, and a set's noise of 1 mV, 57 dB below white: common practice, no
/// source.
const VIEWING: Viewing = Viewing { white: 100.0, room_lux: 50.0, reflection: 0.03, noise_v: 1e-3 };

/// An integrator of 100 µs, common practice without a source, that triggers at 30 % (maker's data of
/// a deflection processor).
const FIELD_LOOP: FieldLoop = FieldLoop { highest_hz: 54.0, integrator_s: 100e-6, slice: 0.3 };

impl Kind {
    /// Its word in `[receiver] kind`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TubeSet => "tube-set",
            Self::LateTubeSet => "late-tube-set",
            Self::Monitor => "monitor",
            Self::FlatPanel => "flat-panel",
        }
    }

    /// What it is.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::TubeSet => "old tube set, hand hold at its middle",
            Self::LateTubeSet => "later tube set, no hand hold",
            Self::Monitor => "tube monitor with a video input",
            Self::FlatPanel => "flat panel behind a video decoder",
        }
    }

    /// Where the figures of what it follows come from.
    #[must_use]
    pub const fn source(self) -> &'static str {
        match self {
            Self::TubeSet => {
                "the loop of its line oscillator, made to pull in by 475 Hz (service practice, from \
                 memory: 200 to 600 Hz) and to hold by 900 Hz (maker's data of a later deflection \
                 processor, for want of better); fields within 4 Hz (the same data)"
            }
            Self::LateTubeSet => {
                "its loop, within maker's data of deflection processors: catch at least 600 Hz, hold \
                 900 to 1200 Hz, fields 45 to 64.5 Hz"
            }
            Self::Monitor => {
                "its loop, within the same data; makers of monitors state less, common practice, no \
                 source"
            }
            Self::FlatPanel => {
                "what it asks of a signal: 600 Hz of line rate and 45 to 64.5 Hz, the same data; \
                 within it a panel may still refuse the form of field sync, its depth, or a picture \
                 without interlace"
            }
        }
    }

    /// The set with its knobs in the middle.
    ///
    /// # Source
    ///
    /// Bandwidth and overscan: common practice, no source; a sound carrier at 4.5 to 6 MHz leaves a
    /// tuner's picture 3.5 to 4 MHz, a video input of the 625-line systems has 5 (ITU-R BT.470). A
    /// panel's 2.2: ITU-R BT.470, system M.
    #[must_use]
    pub fn preset(self, standard: Standard) -> ReceiverSpec {
        let (bandwidth_hz, overscan) = match self {
            Self::TubeSet => (3.5e6, 0.10),
            Self::LateTubeSet => (4.0e6, 0.06),
            Self::Monitor => (5.0e6, 0.0),
            Self::FlatPanel => (5.0e6, 0.04),
        };
        let transfer = match self {
            Self::TubeSet | Self::LateTubeSet | Self::Monitor => {
                Transfer::Bt1886 { black: TUBE_BLACK }
            }
            Self::FlatPanel => Transfer::Gamma(2.2),
        };
        let nominal = of_standard(standard);
        let (field_hz, highest_hz) = self.field_range(standard);
        ReceiverSpec {
            line_hz: nominal.line_hz * (1.0 + FREE_RUN_ERROR),
            field_hz,
            line_loop: self.line_loop(),
            field_loop: FieldLoop { highest_hz, ..nominal.field_loop },
            demands: if self == Self::FlatPanel { DEMANDS.to_vec() } else { Vec::new() },
            bandwidth_hz,
            overscan,
            transfer,
            ..nominal
        }
    }

    /// Its loop.
    ///
    /// # Source
    ///
    /// Hold ranges: ± 0.9 kHz typical, ± 1.2 kHz most (maker's data of a deflection processor); with
    /// them catch comes out as 475 Hz for the tube set (service practice: 200 to 600 Hz), and above
    /// the 600 Hz least of the same data for the others. Gains: a clock 2.5 % off shifts an old set's
    /// picture by more than the 1.5 µs that a maker's note on such loops allows. Natural frequencies:
    /// 50 to 150 Hz slow, 400 to 1000 Hz fast, damping 0.7 to 1.5: from memory.
    const fn line_loop(self) -> LineLoop {
        let (natural_hz, damping, gain, swing_s) = match self {
            Self::TubeSet => (250.0, 1.0, 12e3, 4.8e-6),
            Self::LateTubeSet => (500.0, 0.8, 15e3, 5.0e-6),
            Self::Monitor => (1000.0, 0.8, 20e3, 3.6e-6),
            Self::FlatPanel => (1000.0, 0.8, 30e3, 2.6e-6),
        };
        LineLoop { natural_hz, damping, gain, swing_s }
    }

    /// The lowest and highest field rates at which it takes every trigger, Hz.
    ///
    /// # Source
    ///
    /// Maker's data of deflection processors: 46 to 54 and 56 to 64 Hz; 45 to 64.5 Hz of later ones,
    /// which take both standards.
    const fn field_range(self, standard: Standard) -> (f64, f64) {
        match (self, standard) {
            (Self::TubeSet, Standard::Lines625) => (46.0, 54.0),
            (Self::TubeSet, Standard::Lines525) => (56.0, 64.0),
            _ => (45.0, 64.5),
        }
    }
}

/// Line, field and window of a standard.
///
/// # Source
///
/// ITU-R BT.470: 625 lines: 15 625 Hz, 50 Hz, 10.5 µs from the leading edge of sync to the picture,
/// 52 µs of picture, 25 lines of field blanking. 525 lines: 15 734.264 Hz, 59.94 Hz, 9.2 to
/// 10.3 µs, 52.66 µs, 20 lines. Sync is sliced at half its depth (maker's data of a deflection
/// processor).
fn of_standard(standard: Standard) -> ReceiverSpec {
    let common = ReceiverSpec {
        line_hz: standard.line_hz(),
        field_hz: 46.0,
        line_loop: Kind::TubeSet.line_loop(),
        field_loop: FIELD_LOOP,
        nominal_line_hz: standard.line_hz(),
        demands: Vec::new(),
        coupling_hz: Some(1.0),
        clamp: Clamp::BackPorch,
        slice: 0.5,
        bandwidth_hz: 3.5e6,
        span_v: 0.7,
        contrast: 1.0,
        brightness: 0.0,
        transfer: Transfer::Bt1886 { black: TUBE_BLACK },
        overscan: 0.0,
        active_start_s: 10.5e-6,
        active_s: 52e-6,
        first_line: 24,
        shown_lines: 288,
        frame: (768, 576),
        viewing: VIEWING,
    };
    match standard {
        Standard::Lines625 => common,
        Standard::Lines525 => ReceiverSpec {
            field_hz: 56.0,
            active_start_s: 9.4e-6,
            active_s: 52.66e-6,
            first_line: 20,
            shown_lines: 242,
            frame: (640, 480),
            ..common
        },
    }
}

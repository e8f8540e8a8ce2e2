//! A rating and its parts.

use crate::analysis::rating::standing::State;
use crate::scenario::limits::Bound;

/// The word for a rating, from good to bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// Within its limit.
    Ok,
    /// Somebody should look at it.
    Look,
    /// It has to be changed before power is put on.
    Stop,
}

impl Word {
    /// "ok", "look" or "stop".
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Look => "look",
            Self::Stop => "stop",
        }
    }
}

/// Whether a limit is an upper or a lower one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The figure should not be above it.
    AtMost,
    /// The figure should not be below it.
    AtLeast,
}

impl Side {
    /// "at most" or "at least".
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::AtMost => "at most",
            Self::AtLeast => "at least",
        }
    }
}

/// What figure and limit count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// V.
    Volt,
    /// A.
    Ampere,
    /// W.
    Watt,
    /// °C.
    Celsius,
    /// Ω.
    Ohm,
    /// F.
    Farad,
}

impl Unit {
    /// Its sign.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Volt => "V",
            Self::Ampere => "A",
            Self::Watt => "W",
            Self::Celsius => "°C",
            Self::Ohm => "Ω",
            Self::Farad => "F",
        }
    }
}

macro_rules! subjects {
    ($($(#[$doc:meta])* $name:ident = $word:literal;)*) => {
        /// The rule by which a part is rated.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Subject {
            $($(#[$doc])* $name,)*
        }

        impl Subject {
            /// Every rule, in the order in which a part's are told.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// Its name.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self {
                    $(Self::$name => $word,)*
                }
            }
        }
    };
}

subjects! {
    /// Volts of a gate's input above its supply or below ground.
    InputVolts = "input beyond its supply";
    /// Current through a gate input's protection diodes.
    ClampCurrent = "input clamp current";
    /// How far an input is from its switching level.
    ThresholdMargin = "threshold margin";
    /// How far the high level that a chip guarantees lies above what a gate asks for.
    GuaranteedMargin = "guaranteed margin";
    /// An input that nothing holds.
    FloatingInput = "floating input";
    /// Supply of a gate.
    GateSupply = "gate supply";
    /// Current of a gate's output.
    GateOutput = "gate output current";
    /// A node that feeds something and stands at nothing.
    NoSupply = "supply missing";
    /// Clamp currents into a rail against what it draws.
    BackFeed = "back-fed rail";
    /// Outputs of one node against each other.
    Contention = "contention";
    /// Current that a chip pin gives.
    PinSource = "pin source current";
    /// Current that a chip pin takes.
    PinSink = "pin sink current";
    /// Supply of the chip.
    ChipSupply = "chip supply";
    /// Current of a transistor or a diode.
    Current = "current";
    /// Heat of a transistor, a zener, a resistor.
    Heat = "heat";
    /// Emitter above base, as no emitter bears it.
    ReverseVolts = "base-emitter reverse";
    /// Collector and emitter exchanged.
    Exchanged = "collector and emitter";
    /// An electrolytic the wrong way round.
    Polarity = "polarity";
    /// Working volts of a capacitor against its rating.
    CapacitorVolts = "capacitor volts";
    /// Capacitance in series with the socket.
    Coupling = "coupling capacitance";
    /// Rating of the capacitor in series with the socket, against twice the rail.
    CouplingRating = "coupling rating";
    /// Input of a regulator above its output.
    Headroom = "regulator headroom";
    /// Junction of a regulator.
    Junction = "regulator heat";
    /// Volts at a regulator's input.
    RegulatorInput = "regulator input";
    /// Capacitor at a regulator's input.
    InputCapacitor = "input capacitor";
    /// Capacitor at a regulator's output.
    OutputCapacitor = "output capacitor";
    /// An adapter the wrong way round.
    Reversal = "adapter polarity";
    /// Current into a shorted socket.
    Short = "output short";
    /// Back porch at the socket.
    Dc = "DC at the socket";
    /// White above tip.
    White = "output level";
    /// Black above tip.
    Depth = "sync depth";
}

/// One rule, looked at on one part.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    /// Part, pin or node; "chip" and "socket" for those.
    pub part: String,
    /// The rule.
    pub subject: Subject,
    /// Where it is worst; `None` if it is the same whatever is lit.
    pub state: Option<State>,
    /// What was found, in `unit`.
    pub figure: f64,
    /// The limit that it is held against, in `unit`.
    pub limit: f64,
    /// Which side of the limit is the good one.
    pub side: Side,
    /// V, A, W, °C, Ω or F.
    pub unit: Unit,
    /// Where the limit comes from.
    pub source: &'static str,
    /// The word.
    pub word: Word,
    /// One sentence.
    pub sentence: String,
}

/// A figure held against its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Judged {
    pub(super) figure: f64,
    pub(super) limit: f64,
    pub(super) side: Side,
    pub(super) word: Word,
    pub(super) source: &'static str,
    /// How hard it is pressed, to find the worst of those with one word.
    pub(super) strain: f64,
}

impl Judged {
    /// Against an upper bound.
    pub(super) fn at_most(figure: f64, bound: Bound) -> Self {
        let Bound { look, stop, source } = bound;
        let (word, limit) = if figure > stop {
            (Word::Stop, stop)
        } else if figure > look {
            (Word::Look, look)
        } else {
            (Word::Ok, look)
        };
        Self { figure, limit, side: Side::AtMost, word, source, strain: figure }
    }

    /// Against a lower bound, below which the word is `below`.
    pub(super) fn at_least(figure: f64, limit: f64, below: Word, source: &'static str) -> Self {
        let word = if figure < limit { below } else { Word::Ok };
        Self { figure, limit, side: Side::AtLeast, word, source, strain: -figure }
    }
}

/// An upper bound beyond which nothing breaks.
pub(super) const fn look_above(look: f64, source: &'static str) -> Bound {
    Bound { look, stop: f64::INFINITY, source }
}

/// An upper bound beyond which it has to be changed.
pub(super) const fn stop_above(limit: f64, source: &'static str) -> Bound {
    Bound { look: limit, stop: limit, source }
}

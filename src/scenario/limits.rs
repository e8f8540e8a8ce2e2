//! What each part of a board bears, from its type or as the scenario states it.

/// From where an upper limit is looked at, and where it is broken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// Above this it is looked at.
    pub look: f64,
    /// Above this it has to be changed; infinite if nothing breaks.
    pub stop: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// The window of a supply, V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Lowest.
    pub least: f64,
    /// Highest.
    pub most: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// A number and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sourced {
    /// The number.
    pub value: f64,
    /// Where it comes from.
    pub source: &'static str,
}

/// What a part bears; a part of which nothing is known has none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limits {
    /// Nothing is known.
    None,
    /// A gate, or an analogue switch.
    Gate(GateLimits),
    /// A diode, a transistor, a field-effect transistor.
    Semiconductor(SemiconductorLimits),
    /// A resistor or a trimmer: heat, W.
    Heat(Bound),
    /// A three-terminal regulator.
    Regulator(RegulatorLimits),
    /// A plug-in adapter.
    Adapter(Centre),
}

/// Limits of a logic family.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GateLimits {
    /// Supply between which it is specified; `None` for a stand-in.
    pub supply: Option<Window>,
    /// Current through an input's protection diodes, A; `None` for a stand-in.
    pub clamp: Option<Bound>,
    /// Current of an output, A.
    pub output: Bound,
}

/// Limits of a semiconductor; what is not known is not rated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SemiconductorLimits {
    /// Current of the collector, the drain or the diode, A.
    pub amps: Option<Bound>,
    /// Heat, W.
    pub watts: Option<Bound>,
    /// Reverse voltage from base to emitter, V.
    pub reverse_volts: Option<Bound>,
}

/// Limits of a regulator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RegulatorLimits {
    /// Input above the output that its data sheet asks for, V.
    pub headroom_volts: Sourced,
    /// Thermal resistance from junction to air, without a heat sink, K/W.
    pub kelvin_per_watt: Sourced,
    /// Input that it bears, V.
    pub input_volts: Sourced,
}

/// What is known of an adapter's plug.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Centre {
    /// Plus at the centre.
    Plus,
    /// Minus at the centre.
    Minus,
    /// Nobody has said.
    Unknown,
}

//! Device parameters and their equations.

/// Junction diode: i = Is (exp(v / (n Vt)) − 1), with depletion and diffusion charge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiodeModel {
    /// Saturation current Is, A.
    pub saturation_current: f64,
    /// Emission coefficient n.
    pub emission: f64,
    /// Diffusion charge is this times the current, s.
    pub transit_time: f64,
    /// Depletion charge.
    pub junction: Junction,
}

/// Depletion charge of a junction: C0 V0/(1−m) (1 − (1 − v/V0)^(1−m)) below half of V0, continued
/// there with matching value and slope of the capacitance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Junction {
    /// Zero-bias capacitance C0, F; 0 for none.
    pub farads: f64,
    /// Built-in potential V0, V.
    pub potential: f64,
    /// Grading coefficient m, 0 to below 1.
    pub grading: f64,
}

/// Polarity of a bipolar transistor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarity {
    /// NPN.
    Npn,
    /// PNP.
    Pnp,
}

/// Bipolar transistor, transport form of Ebers and Moll with stored charge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TransistorModel {
    /// Polarity.
    pub polarity: Polarity,
    /// Saturation current Is, A.
    pub saturation_current: f64,
    /// Forward current gain.
    pub forward_gain: f64,
    /// Reverse current gain.
    pub reverse_gain: f64,
    /// Forward transit time, s.
    pub forward_transit_time: f64,
    /// Reverse transit time, s.
    pub reverse_transit_time: f64,
    /// Base-emitter depletion charge.
    pub base_emitter: Junction,
    /// Base-collector depletion charge.
    pub base_collector: Junction,
}

/// Output stage of a gate in one state: current delivered against the drop across the stage.
#[derive(Clone, Debug, PartialEq)]
pub enum OutputCurve {
    /// A plain resistance, Ω.
    Resistance(f64),
    /// A saturating transistor, i = k((vs − threshold) d − d²/2) for drop d below vs − threshold;
    /// k from data-sheet points, interpolated over supply, ends held.
    Saturating {
        /// Threshold, V.
        threshold: f64,
        /// (supply V, k A/V²), rising in supply.
        k: Vec<(f64, f64)>,
    },
}

/// Thermal voltage kT/q at 300.00 K (26.85 °C), V.
///
/// # Source
///
/// Exact SI constants: k = 1.380649e-23 J/K, q = 1.602176634e-19 C.
pub const THERMAL_VOLTS: f64 = 1.380_649e-23 * 300.0 / 1.602_176_634e-19;

//! SI quantities as types, for the borders between modules; inner loops use `f64` with the unit in
//! the name (`step_s`, `node_volts`).

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);
    )*};
}

quantity! {
    /// Electric potential difference, V.
    Volts;
    /// Electric current, A.
    Amps;
    /// Resistance, Ω.
    Ohms;
    /// Capacitance, F.
    Farads;
    /// Inductance, H.
    Henries;
    /// Time, s.
    Seconds;
    /// Frequency, Hz.
    Hertz;
    /// Video level from blanking, IRE; see [`Ire::from_volts`].
    Ire;
}

/// One IRE unit in volts across 75 Ω: a 1 V signal spans 140 IRE.
///
/// # Source
///
/// ITU-R BT.470, system M: sync −40 IRE, white 100 IRE of a 1 V peak-to-peak signal.
pub const VOLTS_PER_IRE: f64 = 1.0 / 140.0;

impl Ire {
    /// Converts a level measured from blanking.
    ///
    /// The result is not clipped: sync is negative, overshoot lies above 100.
    ///
    /// ```
    /// # use backporch::base::units::{Ire, Volts};
    /// assert!((Ire::from_volts(Volts(0.714_285_7)).0 - 100.0).abs() < 1e-4);
    /// ```
    #[must_use]
    pub fn from_volts(above_blanking: Volts) -> Self {
        Self(above_blanking.0 / VOLTS_PER_IRE)
    }
}

//! What every other module may use: units, exact clock time, the same mathematics on every machine,
//! diagnostics, preferred values, a coupling capacitor and ordered parallel work.

pub mod choices;
pub mod coupling;
pub mod diagnostic;
pub mod math;
pub mod parallel;
pub mod preferred;
pub mod random;
pub mod ticks;
pub mod units;

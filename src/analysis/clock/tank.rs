//! A tank as it stands, and what moves it.

use crate::analysis::clock::lock::Window;
use crate::base::math;
use crate::signal::tank::Tank;

/// A probe of ten to one across the tank, F: common practice, no source.
pub const PROBE_FARADS: [f64; 2] = [10e-12, 15e-12];
/// How much warmer a game gets, K: common practice, no source.
pub const WARMING_KELVIN: f64 = 20.0;
/// The part of a core's travel that is good to work in: near its ends it moves little, and the next
/// set or capacitor may need the rest. Common practice, no source.
pub const MIDDLE: (f64, f64) = (0.2, 0.8);
/// Points of a curve over the travel.
const POINTS: usize = 101;

/// What a tank does.
#[derive(Clone, Debug, PartialEq)]
pub struct TankReading {
    /// The tank.
    pub tank: Tank,
    /// Inductance as it stands, H.
    pub henries: f64,
    /// All that stands across it, F.
    pub farads: f64,
    /// Its clock, Hz.
    pub clock_hz: f64,
    /// The clock to be reached, Hz.
    pub aim_hz: f64,
    /// Where the core would have to stand for that; `None` for a fixed coil.
    pub core_for_aim: Option<f64>,
    /// Clocks at both ends of the core's travel, Hz; `None` for a fixed coil.
    pub reach: Option<Window>,
    /// What another picofarad does, as a share of the clock.
    pub per_picofarad: f64,
    /// With a probe of each of [`PROBE_FARADS`] on it, Hz.
    pub probed_hz: [f64; 2],
    /// The same tank [`WARMING_KELVIN`] warmer, Hz.
    pub warm_hz: f64,
}

/// Reads a tank that should give `aim_hz`.
#[must_use]
pub fn read(tank: &Tank, aim_hz: f64) -> TankReading {
    let clock_hz = tank.hertz();
    let ends = [1.0, 0.0].map(|core| tank.with_core(core).hertz());
    let is_adjustable = tank.coil.range > 0.0;
    TankReading {
        tank: *tank,
        henries: tank.henries(),
        farads: tank.farads(),
        clock_hz,
        aim_hz,
        core_for_aim: tank.core_for(aim_hz),
        reach: is_adjustable.then_some(Window { low_hz: ends[0], high_hz: ends[1] }),
        per_picofarad: tank.loaded(1e-12).hertz() / clock_hz - 1.0,
        probed_hz: PROBE_FARADS.map(|farads| tank.loaded(farads).hertz()),
        warm_hz: tank.at(tank.celsius + WARMING_KELVIN).hertz(),
    }
}

/// Clock against core: pairs of travel, 0 to 1, and Hz.
#[must_use]
pub fn travel(tank: &Tank) -> Vec<(f64, f64)> {
    (0..POINTS)
        .map(|point| {
            let core = math::from_usize(point) / math::from_usize(POINTS - 1);
            (core, tank.with_core(core).hertz())
        })
        .collect()
}

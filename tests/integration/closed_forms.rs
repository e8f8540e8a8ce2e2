//! Dividers, joined sources, a follower's output resistance, an RC edge and a coupling capacitor's
//! droop, each against its textbook formula evaluated in double precision.

use crate::boards::Board;
use crate::boards::read;
use crate::boards::standing_volts;
use crate::crossings::crossings;
use backporch::base::math;
use backporch::network::circuit::PartKind;
use backporch::network::device::THERMAL_VOLTS;
use backporch::signal::trace::Trace;
use backporch::simulate::first_field;

/// Half a unit of the sixth decimal that the worked values have, V; the solver stops at 1e-10 V.
const SIXTH_DECIMAL: f64 = 0.51e-6;

/// Volts behind ohms.
type Source = (f64, f64);

/// The voltage of a node that such sources feed.
fn joined_v(sources: &[Source]) -> f64 {
    let mut board = Board::common().resistor(1e12, "node", "ground");
    for (index, &(volts, ohms)) in sources.iter().enumerate() {
        if volts == 0.0 {
            board = board.resistor(ohms, "ground", "node");
        } else {
            let rail = format!("rail_{}", ["a", "b", "c", "d"][index]);
            board = board.supply(volts, &rail).resistor(ohms, &rail, "node");
        }
    }
    standing_volts(&board.scenario("node", 1e12), &[], "node")
}

/// What a node behaves as: R = load (open / loaded - 1), as one would measure it.
fn thevenin_ohms(sources: &[Source]) -> f64 {
    let load_ohms = 1000.0;
    let loaded: Vec<Source> = sources.iter().copied().chain([(0.0, load_ohms)]).collect();
    load_ohms * (joined_v(sources) / joined_v(&loaded) - 1.0)
}

#[test]
fn joined_sources_follow_millmans_theorem() {
    // Evaluated from v = sum(V / R) / sum(1 / R) and R = 1 / sum(1 / R) in double precision.
    let cases: [(&[Source], f64, Option<f64>); 7] = [
        (&[(9.0, 1e3), (0.0, 470.0)], 2.877_551, Some(319.728)),
        (&[(5.0, 1e3), (0.0, 2200.0), (0.0, 75.0)], 0.338_115, Some(67.6230)),
        (&[(5.0, 1e3), (5.0, 2200.0), (0.0, 75.0)], 0.491_803, None),
        (&[(9.0, 4700.0), (9.0, 1800.0), (0.0, 75.0)], 0.490_360, None),
        (&[(9.0, 4700.0), (0.0, 1800.0), (0.0, 75.0)], 0.135_792, None),
        (&[(0.0, 4700.0), (9.0, 1800.0), (0.0, 75.0)], 0.354_568, None),
        (&[(1.0, 100.0), (2.0, 200.0), (3.0, 300.0)], 1.636_364, Some(54.5455)),
    ];
    for (sources, volts, ohms) in cases {
        let found_v = joined_v(sources);
        let siemens: f64 = sources.iter().map(|(_, ohms)| 1.0 / ohms).sum();
        let amps: f64 = sources.iter().map(|(volts, ohms)| volts / ohms).sum();
        assert!((found_v - volts).abs() < SIXTH_DECIMAL, "{sources:?}: {found_v} V");
        assert!((found_v - amps / siemens).abs() < 1e-8, "{sources:?}: {found_v} V");
        if let Some(ohms) = ohms {
            let found = thevenin_ohms(sources);
            // Two voltages known to 1e-9 of themselves, their ratio taken a thousand times.
            assert!((found - 1.0 / siemens).abs() < 1e-4, "{sources:?}: {found} ohm");
            assert!((found / ohms - 1.0).abs() < 1e-5, "{sources:?}: {found} ohm");
        }
    }
}

#[test]
fn two_resistors_from_ideal_rails_make_a_sync_and_a_white_level() {
    // R = V rail / current, the current being what the level needs in 75 ohm beside both resistors.
    for (rail, sync_ohms, video_ohms) in [(5.0, 1000.0, 3000.0 / 7.0), (9.0, 2000.0, 6000.0 / 7.0)]
    {
        let level = |video_v| joined_v(&[(rail, sync_ohms), (video_v, video_ohms), (0.0, 75.0)]);
        assert!((level(0.0) - 0.3).abs() < 1e-8, "black from {rail} V: {}", level(0.0));
        assert!((level(rail) - 1.0).abs() < 1e-8, "white from {rail} V: {}", level(rail));
    }
}

#[test]
fn a_missing_set_doubles_the_level_and_a_second_one_leaves_two_thirds() {
    // 75 ohm source: R / (R + 75) for R = 75, open and 37.5, against R = 75.
    let level = |load_ohms| joined_v(&[(2.0, 75.0), (0.0, load_ohms)]);
    assert!((level(75.0) - 1.0).abs() < 1e-9);
    assert!((level(1e12) / level(75.0) - 2.0).abs() < 1e-8);
    assert!((level(37.5) / level(75.0) - 2.0 / 3.0).abs() < 1e-9);
}

/// A follower of gain 100 fed through 1 kΩ, `pulled_ohms` from its emitter to ground: volts at the
/// emitter and current out of it.
fn follower(feed_v: f64, pulled_ohms: f64) -> (f64, f64) {
    let board = Board::common()
        .supply(12.0, "rail")
        .supply(feed_v, "feed")
        .resistor(1e3, "feed", "base")
        .transistor("small NPN", 100.0, ["rail", "base", "emitter"])
        .resistor(pulled_ohms, "emitter", "ground");
    let volts = standing_volts(&board.scenario("emitter", 1e12), &[], "emitter");
    (volts, volts / pulled_ohms)
}

#[test]
fn a_followers_output_resistance_is_thermal_voltage_over_current_and_its_share_of_the_feed() {
    // Zo = VT / IE + Rs / (gain + 1). Between two currents a part d from their mean, VT ln(I2 / I1)
    // is VT d (1 + d² / 12): d is 1 %, so the chord is the slope within 1e-5. 5 mA through 851 ohm.
    let (first_v, first_a) = follower(5.0, 851.0 * 1.005);
    let (second_v, second_a) = follower(5.0, 851.0 / 1.005);
    let found = (first_v - second_v) / (second_a - first_a);
    let emitter_a = 0.5 * (first_a + second_a);
    assert!((emitter_a - 5e-3).abs() < 5e-5, "{emitter_a} A");
    let formula = THERMAL_VOLTS / emitter_a + 1e3 / 101.0;
    assert!((found / formula - 1.0).abs() < 1e-5, "{found} ohm, formula {formula} ohm");
    // Worked value at 5 mA and 25 °C, where VT is 25.6926 mV: 15.0395 ohm. Ours is at 26.85 °C.
    let at_25_degrees =
        (found - 1e3 / 101.0) * emitter_a / 5e-3 * (25.6926 / 25.8520) + 1e3 / 101.0;
    assert!((at_25_degrees / 15.0395 - 1.0).abs() < 2e-5, "{at_25_degrees} ohm");
}

#[test]
fn a_followers_gain_is_its_emitter_resistor_over_that_and_its_output_resistance() {
    let (first_v, first_a) = follower(4.99, 851.0);
    let (second_v, second_a) = follower(5.01, 851.0);
    let output_ohms = THERMAL_VOLTS / (0.5 * (first_a + second_a)) + 1e3 / 101.0;
    let gain = (second_v - first_v) / 0.02;
    // The currents lie 0.5 % apart: 2e-6 of the slope, which is a fiftieth of the whole.
    assert!((gain - 851.0 / (851.0 + output_ohms)).abs() < 1e-6, "{gain}");
}

/// A pulse generator: lines of 80 µs, its output high but for the first and the last line of 253,
/// behind `ohms` at node `step`.
pub(crate) fn step_board(ohms: f64, high_volts: f64, parts: &str, more: &str) -> String {
    format!(
        "[chip.timing]\nclock = \"1.6 MHz\"\nclocks_per_line = 128\nlines = 253\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"held\"\nfirst_active_line = 24\n\
         [chip.pattern.step]\nrole = \"sync\"\nsense = \"high\"\n\
         active = [{{ lines = [1, 252], clocks = [0, 128] }}]\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = {high_volts}\nhigh_ohms = {ohms}\n\
         low_volts = 0\nlow_ohms = {ohms}\n{parts}[wiring]\nstray = 0\n{more}"
    )
}

/// The socket's waveform over one field, from the idle state.
pub(crate) fn waveform(text: &str) -> Trace {
    first_field(&read(text)).unwrap().traces.swap_remove(0)
}

/// When the first rising edge passes `level`, s.
pub(crate) fn passes_at_s(trace: &Trace, level: f64) -> f64 {
    crossings(&trace.volts, level).1[0] * trace.step_s()
}

#[test]
fn an_rc_edge_takes_ln_9_time_constants_from_10_to_90_percent() {
    let parts = "[board.C1]\ncapacitor = \"100 pF\"\nfrom = \"step\"\nto = \"ground\"\n\
                 [output]\nnode = \"step\"\nload = 1e12\n";
    let more = "[solve]\nstart = \"idle\"\nsamples_per_clock = 64\n";
    let trace = waveform(&step_board(1000.0, 5.0, parts, more));
    let tau_s = 1000.0 * 100e-12;
    let rise_s = passes_at_s(&trace, 4.5) - passes_at_s(&trace, 0.5);
    // A chord lies off its curve by h² / (8 tau) in time, at most: h is 9.8 ns, so 0.12 ns. At 90 %
    // of 5 V the slope is 5 µV a picosecond: ten times the tolerance of 20 µV makes 40 ps.
    let chord_s = trace.step_s() * trace.step_s() / (8.0 * tau_s);
    let solver_s = 10.0 * 20e-6 / (0.5 / tau_s);
    let formula_s = tau_s * math::ln(9.0);
    assert!((rise_s - formula_s).abs() < 2.0 * chord_s + solver_s, "{rise_s} s");
    // Worked value 219.72 ns, to be met within 0.1 %.
    assert!((rise_s / 219.72e-9 - 1.0).abs() < 1e-3, "{rise_s} s");
    let half_s = passes_at_s(&trace, 2.5) - 80e-6;
    let half_formula_s = tau_s * math::ln(2.0);
    assert!((half_s - half_formula_s).abs() < chord_s + solver_s, "half way after {half_s} s");
}

#[test]
fn a_coupling_capacitor_of_470_microfarads_droops_by_a_quarter_in_20_milliseconds() {
    let parts = "[board.C1]\ncapacitor = \"470 uF\"\nfrom = \"step\"\nto = \"plug\"\n\
                 [output]\nnode = \"plug\"\nload = 75\n";
    let more = "[solve]\nstart = \"idle\"\nsamples_per_clock = 1\n";
    let trace = waveform(&step_board(75.0, 2.0, parts, more));
    let tau_s = 470e-6 * 150.0;
    // 1 V at once, for the capacitor keeps its charge; then down with the time constant.
    for (after_lines, printed) in [(125, 0.132_243), (250, 0.246_998)] {
        let sample = (1 + after_lines) * 128;
        let time_s = math::from_usize(after_lines) * 80e-6;
        let droop = 1.0 - f64::from(trace.volts[sample]);
        let formula = -math::expm1(-time_s / tau_s);
        // The solver's tolerance is 20 µV of 1 V.
        assert!((droop - formula).abs() < 20e-6, "{droop} after {time_s} s, formula {formula}");
        assert!((formula - printed).abs() < 0.5e-6);
    }
    let at_once = f64::from(trace.volts[128 + 1]);
    assert!((at_once - 1.0).abs() < 20e-6 + 1.0 / (1.6e6 * tau_s), "{at_once} V");
}

#[test]
fn values_are_read_as_they_are_printed_on_parts() {
    // IEC 60062: a letter in place of the decimal point.
    for (text, ohms) in [
        ("4k7", 4700.0),
        ("4K7", 4700.0),
        ("R47", 0.47),
        ("3R3", 3.3),
        ("1M0", 1e6),
        ("2k2", 2200.0),
    ] {
        let lines = format!("resistor = \"{text}\"\nfrom = \"field\"\nto = \"ground\"");
        let scenario = Board::common().part("R", &lines).scenario("field", 75.0);
        let part = scenario.circuit.part("R1").unwrap();
        assert!(
            matches!(scenario.circuit.parts[part.0].kind,
                PartKind::Resistor { ohms: found, .. } if (found / ohms - 1.0).abs() < 1e-15),
            "{text}"
        );
    }
    for (text, farads) in [("4n7", 4.7e-9), ("100n", 1e-7), ("470 uF", 470e-6)] {
        let lines = format!("capacitor = \"{text}\"\nfrom = \"field\"\nto = \"ground\"");
        let scenario = Board::common().part("C", &lines).scenario("field", 75.0);
        let part = scenario.circuit.part("C1").unwrap();
        assert!(
            matches!(scenario.circuit.parts[part.0].kind,
                PartKind::Capacitor { farads: found, .. } if (found / farads - 1.0).abs() < 1e-15),
            "{text}"
        );
    }
}

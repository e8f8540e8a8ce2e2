//! Semiconductors and switches on solved boards, against equations written out here.

use crate::boards::Board;
use crate::boards::columns_mv;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::circuit::AnalogueSwitch;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::GateSpeed;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::circuit::Threshold;
use backporch::network::device::Breakdown;
use backporch::network::device::DiodeModel;
use backporch::network::device::THERMAL_VOLTS;
use backporch::network::field_effect::Channel;
use backporch::network::field_effect::FieldEffectModel;
use backporch::network::field_effect::FieldGate;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;

use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;

const GROUND: NodeId = NodeId::GROUND;
const RAIL: NodeId = NodeId(1);
const OUT: NodeId = NodeId(2);
const GATE: NodeId = NodeId(3);

fn circuit(kinds: Vec<PartKind>) -> Circuit {
    let part = |(index, kind)| Part { name: format!("X{index}"), kind };
    Circuit {
        nodes: ["ground", "rail", "out", "gate"].map(str::to_owned).to_vec(),
        parts: kinds.into_iter().enumerate().map(part).collect(),
    }
}

/// Standing volts at `out`, with `gate` held by a source.
fn out_volts(rail: f64, gate: f64, kinds: Vec<PartKind>) -> f64 {
    let mut all = vec![
        PartKind::Supply { node: RAIL, volts: rail, ohms: 0.0 },
        PartKind::Supply { node: GATE, volts: gate, ohms: 0.0 },
    ];
    all.extend(kinds);
    let network = Network::new(&circuit(all)).unwrap();
    network.operating_point(&[]).unwrap().volts(OUT)
}

fn resistor(ohms: f64) -> PartKind {
    PartKind::Resistor { ends: [RAIL, OUT], ohms }
}

fn zener(volts: f64, dynamic_ohms: f64, series_ohms: f64) -> DiodeModel {
    let breakdown = Breakdown { volts, amps: 5e-3, slope_volts: 5e-3 * dynamic_ohms };
    DiodeModel { breakdown: Some(breakdown), series_ohms, ..DiodeModel::ideal(1e-14, 1.0) }
}

/// Where `falling` of the unknown crosses 0, between two bounds.
fn root(mut low: f64, mut high: f64, falling: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if falling(middle) > 0.0 { low = middle } else { high = middle }
    }
    low
}

#[test]
fn a_zener_holds_a_rail_where_its_own_exponential_says() {
    // (rail, zener, dynamic Ω, series Ω, feed Ω, load Ω)
    for (rail, volts, dynamic, series, feed, load) in [
        (9.0, 5.1, 40.0, 0.0, 220.0, 1e3),
        (9.0, 6.2, 6.0, 1.5, 47.0, 180.0),
        (24.0, 12.0, 10.0, 2.0, 470.0, 4.7e3),
        (9.0, 3.3, 85.0, 0.0, 1e3, 1e6),
        (5.0, 6.2, 6.0, 0.0, 220.0, 1e3),
    ] {
        let found = out_volts(
            rail,
            0.0,
            vec![
                resistor(feed),
                PartKind::Resistor { ends: [OUT, GROUND], ohms: load },
                PartKind::Diode {
                    anode: GROUND,
                    cathode: OUT,
                    model: zener(volts, dynamic, series),
                },
            ],
        );
        // The junction's reverse volts as the unknown: the current through it gives the node.
        let slope = 5e-3 * dynamic;
        let amps = |inner: f64| {
            5e-3 * (math::exp((inner - volts) / slope) - math::exp(-volts / slope))
                + 1e-14 * (1.0 - math::exp(-inner / THERMAL_VOLTS))
        };
        let inner = root(0.0, rail, |inner| {
            let node = inner + series * amps(inner);
            (rail - node) / feed - node / load - amps(inner)
        });
        let expected = inner + series * amps(inner);
        assert!((found - expected).abs() < 1e-8, "{volts}: {found} {expected}");
    }
}

#[test]
fn a_zener_turned_round_is_a_silicon_diode_and_two_of_them_clip_both_ways() {
    let turned = PartKind::Diode { anode: OUT, cathode: GROUND, model: zener(5.6, 15.0, 0.0) };
    let found = out_volts(9.0, 0.0, vec![resistor(470.0), turned]);
    let expected = root(0.0, 1.0, |v| (9.0 - v) / 470.0 - 1e-14 * math::expm1(v / THERMAL_VOLTS));
    assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    for volts in [-300.0, -50.0, -9.0, 9.0, 50.0, 300.0] {
        let mut kinds = vec![resistor(1e3)];
        for (anode, cathode) in [(GATE, OUT), (GATE, GROUND)] {
            kinds.push(PartKind::Diode { anode, cathode, model: zener(5.6, 15.0, 0.0) });
        }
        kinds.push(PartKind::Supply { node: RAIL, volts, ohms: 0.0 });
        let point = Network::new(&circuit(kinds)).unwrap().operating_point(&[]).unwrap();
        let clipped = point.volts(OUT).abs();
        assert!((5.8..8.0).contains(&clipped) || volts.abs() < 10.0, "{volts}: {clipped}");
        assert!(clipped > 5.6 && point.volts(OUT).signum() == volts.signum(), "{clipped}");
    }
}

fn mos(channel: Channel) -> FieldEffectModel {
    let body = DiodeModel::ideal(1e-14, 1.0);
    let gate = FieldGate::Insulated { source_farads: 20e-12, drain_farads: 3e-12, body };
    FieldEffectModel { channel, k: 0.02, threshold: 2.0, off_ohms: 1e10, gate }
}

fn to_ground(model: FieldEffectModel, gate: NodeId) -> PartKind {
    PartKind::FieldEffect { drain: OUT, gate, source: GROUND, model }
}

#[test]
fn a_mos_switch_pulls_a_resistor_down_by_its_quadratic() {
    let (rail, ohms, k) = (5.0, 1e3, 0.02);
    for (gate, sign, channel) in
        [(5.0, 1.0, Channel::N), (3.0, 1.0, Channel::N), (5.0, -1.0, Channel::P)]
    {
        let kinds = vec![resistor(ohms), to_ground(mos(channel), GATE)];
        let found = sign * out_volts(sign * rail, sign * gate, kinds);
        // k ((vg − 2) v − v²/2) = (rail − v) / R
        let b: f64 = k * (gate - 2.0) + 1.0 / ohms;
        let expected = (b - (b * b - 2.0 * k * rail / ohms).sqrt()) / k;
        assert!((found - expected).abs() < 1e-7, "{found} {expected}");
    }
    let off = out_volts(5.0, 1.5, vec![resistor(1e3), to_ground(mos(Channel::N), GATE)]);
    assert!((off - 5.0).abs() < 1e-6, "{off}");
}

#[test]
fn a_junction_transistor_with_its_gate_on_its_source_is_a_current_source() {
    for (sign, channel) in [(1.0, Channel::N), (-1.0, Channel::P)] {
        let gate = FieldGate::Junction(DiodeModel::ideal(1e-14, 1.0));
        let (idss, pinch_off) = (3e-3, 1.8);
        let k = 2.0 * idss / (pinch_off * pinch_off);
        let model = FieldEffectModel { channel, k, threshold: -pinch_off, off_ohms: 1e10, gate };
        let on = sign * out_volts(sign * 9.0, 0.0, vec![resistor(1e3), to_ground(model, GATE)]);
        assert!((on - (9.0 - 1e3 * idss)).abs() < 1e-5, "{on}");
        let off =
            sign * out_volts(sign * 9.0, -sign * 4.0, vec![resistor(1e3), to_ground(model, GATE)]);
        assert!((off - 9.0).abs() < 1e-5, "{off}");
    }
}

/// A selector of four taps out of four analogue switches: an ideal one followed by a gain of two
/// and 75 Ω in series gives a set 0 / 300 / 1000 / 650 mV from taps of the same volts.
fn selector() -> Board {
    let switch = |board: Board, control: &str, tap: &str| {
        let lines = format!(
            "analogue_switch = \"4066B\"\ncontrol = \"{control}\"\nfrom = \"{tap}\"\n\
             to = \"bus\"\nsupply = \"rail5\""
        );
        board.part("S", &lines)
    };
    let board = Board::common()
        .supply(5.0, "rail5")
        .supply(0.3, "tap_black")
        .supply(1.0, "tap_white")
        .supply(0.65, "tap_grey")
        .gate("or", &["field", "ball", "right"], "white", "rail5")
        .gate("not", &["sync"], "tip", "rail5")
        .gate("not", &["white"], "dark", "rail5")
        .gate("and", &["left", "dark"], "grey", "rail5")
        .gate("nor", &["white", "left", "tip"], "black", "rail5");
    let board = switch(board, "tip", "ground");
    let board = switch(board, "black", "tap_black");
    let board = switch(board, "white", "tap_white");
    switch(board, "grey", "tap_grey")
}

#[test]
fn four_analogue_switches_select_the_levels_of_an_ideal_selector() {
    let found = columns_mv(&selector().scenario("bus", 10e6));
    let expected = [0.0, 300.0, 300.0, 700.0, 700.0, 700.0, 350.0, 700.0, 700.0];
    for (found, expected) in found.iter().zip(expected) {
        // The load of 10 MΩ takes 470 Ω / 10 MΩ of it.
        assert!((found - expected).abs() < 0.06, "{found} {expected}");
    }
}

#[test]
fn a_control_that_only_a_capacitor_holds_is_named() {
    let lines = "analogue_switch = \"4066B\"\ncontrol = \"nowhere\"\nfrom = \"left\"\nto = \"plug\"\n\
                 supply = \"rail5\"";
    let coupled = "capacitor = \"100 n\"\nfrom = \"sync\"\nto = \"nowhere\"";
    let board = Board::common().supply(5.0, "rail5").part("S", lines).part("C", coupled);
    let error = Network::new(&board.scenario("plug", 75.0).circuit).unwrap_err();
    assert!(error.to_string().contains("nothing holds node `nowhere`"), "{error}");
}

const SWITCH_OHMS: f64 = 470.0;
const DELAY_S: f64 = 35e-9;
const CONTROL_OHMS: f64 = 50.0;
const CONTROL_FARADS: f64 = 5e-12;

/// A tap of 2 V, a switch and 1 nF; its control comes from a pin that jumps between 0 and 5 V.
fn sampler() -> Circuit {
    let [tap, bus, control, supply] = [1, 2, 3, 4].map(NodeId);
    let switch = AnalogueSwitch {
        ends: [tap, bus],
        control,
        supply,
        threshold: Threshold::Share { low: 0.2, typical: 0.4, high: 0.7 },
        on_ohms: vec![(5.0, SWITCH_OHMS)],
        off_ohms: 1e12,
        end_farads: 8e-12,
        between_farads: 0.5e-12,
        control_farads: CONTROL_FARADS,
        clamp: None,
        speed: vec![GateSpeed { supply_volts: 5.0, delay_s: DELAY_S, transition_s: 17e-9 }],
    };
    let stage = |offset| PinStage::Linear { offset, share: 0.0, ohms: CONTROL_OHMS };
    let pin = Pin {
        node: control,
        supply: GROUND,
        levels: vec![stage(0.0), stage(5.0)],
        delay_s: 0.0,
        rise_s: 0.0,
        fall_s: 0.0,
        farads: 0.0,
    };
    let kinds = [
        PartKind::Pin(Box::new(pin)),
        PartKind::AnalogueSwitch(Box::new(switch)),
        PartKind::Supply { node: tap, volts: 2.0, ohms: 0.0 },
        PartKind::Supply { node: supply, volts: 5.0, ohms: 0.0 },
        PartKind::Capacitor { ends: [bus, GROUND], farads: 1e-9 },
        PartKind::Resistor { ends: [bus, GROUND], ohms: 1e12 },
    ];
    let part = |(index, kind)| Part { name: format!("X{index}"), kind };
    Circuit {
        nodes: ["ground", "tap", "bus", "control", "supply"].map(str::to_owned).to_vec(),
        parts: kinds.into_iter().enumerate().map(part).collect(),
    }
}

/// A closing switch charges a capacitor through a conductance that rises in a straight line, so
/// that v = V (1 − exp(−∫g dt / C)), and the integral is that of a step at the middle of the rise.
#[test]
fn a_closing_switch_charges_a_capacitor_as_the_closed_form_says() {
    let circuit = sampler();
    let network = Network::new(&circuit).unwrap();
    let standing = network.operating_point(&[Level::LOW]).unwrap();
    let clock = ClockRate::new(10_000_000, 1).unwrap();
    let taps = vec![NodeId(2)];
    let spec = TransientSpec { clock, samples_per_clock: 1, tolerance_v: 1e-6, taps };
    let mut transient = Transient::new(&network, &circuit, &standing, &[Level::LOW], spec);
    let edges = [Edge { at: Tick(2), level: Level::HIGH }, Edge { at: Tick(7), level: Level::LOW }];
    let train = PulseTrain::new(Level::LOW, edges, TickSpan(12));
    let samples = transient.advance_field(std::slice::from_ref(&train)).unwrap().swap_remove(0);
    // The control's own lag puts its crossing of 2 V a little after each edge.
    let lag_s = |share: f64| -CONTROL_OHMS * CONTROL_FARADS * math::ln(share);
    let closes_s = 2e-7 + lag_s(0.6) + DELAY_S;
    let opens_s = 7e-7 + lag_s(0.4) + DELAY_S;
    // Half of 1e12 Ω each way: 1 V before it closes.
    let start = f64::from(samples[0]);
    assert!((start - 1.0).abs() < 1e-6, "{start}");
    for (index, &sample) in samples.iter().enumerate() {
        let at_s = 1e-7 * f64::from(u32::try_from(index).unwrap());
        let closed_s = (at_s.min(opens_s) - closes_s).max(0.0);
        let left = math::exp(-closed_s / (SWITCH_OHMS * (1e-9 + 8.5e-12)));
        let expected = 2.0 - (2.0 - start) * left;
        assert!((f64::from(sample) - expected).abs() < 1e-5, "{index}: {sample} {expected}");
    }
}

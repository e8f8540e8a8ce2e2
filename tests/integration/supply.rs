//! What feeds a board: hours, what is lost on the way down, contacts, dried reservoirs, a bench feed.
//!
//! Checked against Ohm's law, charge over current, and the straight and exponential ways of a reservoir,
//! all evaluated here; and against the trade's figure for a sagging rail.

use crate::boards::example;
use crate::boards::own_ladder;
use crate::boards::read;
use crate::boards::standing_volts;
use crate::program::backporch;
use backporch::analysis::supply::Runs;
use backporch::analysis::supply::SupplyReport;
use backporch::analysis::supply::SupplyRequest;
use backporch::analysis::supply::bench::Clip;
use backporch::analysis::supply::discharge::Lost;
use backporch::analysis::supply::in_time::porches;
use backporch::analysis::supply::supply;
use backporch::base::math;
use backporch::scenario::Scenario;
use backporch::simulate::Bench;

const DRIVER: &str = "scenarios/part-driver.toml";
const TABLE: &str = "scenarios/table-follower.toml";

/// A chip that draws 50 mA whatever its rail, on a source: nothing else takes any current but for two
/// pins of fixed volts.
fn plain(source: &str, parts: &str) -> Scenario {
    read(&format!(
        "[chip]\nsupply = \"rail\"\ncurrent = \"50 mA\"\nleast_supply = \"5.9 V\"\n\
         [chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nhigh_ohms = 1000\nlow_ohms = 1000\n\
         [chip.pattern.bar]\nactive = [{{ lines = [100, 200], clocks = [50, 70] }}]\n\
         [board.V1]\n{source}\nnode = \"rail\"\n{parts}\
         [board.R8]\nresistor = \"1 k\"\nfrom = \"sync\"\nto = \"plug\"\n\
         [board.R9]\nresistor = \"470\"\nfrom = \"bar\"\nto = \"plug\"\n\
         [output]\nnode = \"plug\"\n"
    ))
}

fn asked(scenario: &Scenario, runs: Runs, clip: Option<Clip>) -> SupplyReport {
    supply(scenario, &SupplyRequest { source: None, steps: 11, runs, clip }).unwrap()
}

fn at_rest(scenario: &Scenario) -> SupplyReport {
    asked(scenario, Runs::None, None)
}

#[test]
fn hours_are_charge_over_current() {
    // 2.5 Ah at 50 mA: 50 hours; 0.55 Ah: 11; as stated, 1.2 Ah: 24.
    for (source, hours) in [
        ("battery = \"6 cells\"\nsize = \"AA\"", 50.0),
        ("battery = \"9 V\"", 11.0),
        ("battery = \"6 cells\"\ncapacity = \"1200 mAh\"", 24.0),
    ] {
        let report = at_rest(&plain(source, ""));
        let steps = &report.discharge.steps;
        for (step, share) in steps.iter().zip(0..) {
            let wanted = hours * f64::from(share) / 10.0;
            assert!((step.at.hours.unwrap() - wanted).abs() < 1e-3 * hours, "{source} {share}");
            assert!((step.look.source_a - 0.05).abs() < 1e-5, "{}", step.look.source_a);
        }
    }
}

#[test]
fn on_the_way_down_the_chip_is_fed_too_little_where_the_same_charge_as_a_setting_says_so() {
    let report = at_rest(&example(DRIVER, &[]));
    let chip = report.discharge.losses.iter().find(|loss| loss.what == Lost::Chip).unwrap();
    let charge = chip.at.charge.unwrap();
    assert!((0.15..0.35).contains(&charge), "{charge}");
    let set = example(DRIVER, &[&format!("V1.charge={charge}")]);
    let chip_v = standing_volts(&set, &["sync"], "chip_rail");
    assert!((chip_v - 6.0).abs() < 2e-3, "{chip_v}");
    // 33 Ω lie between the battery and the chip.
    let through_a = (chip.source_v - chip_v) / 33.0;
    assert!((0.034..0.038).contains(&through_a), "{through_a}");
}

#[test]
fn a_contacts_ohms_take_what_ohms_law_says() {
    // 9 V behind 1.8 Ω and 50 mA.
    let scenario = plain("battery = \"6 cells\"", "");
    let report = at_rest(&scenario);
    for step in &report.contacts.steps {
        let wanted = 9.0 - 0.05 * (1.8 + step.ohms);
        assert!((step.look.source_v - wanted).abs() < 1e-3, "{} ohm", step.ohms);
    }
    let chip = report.contacts.losses.iter().find(|loss| loss.what == Lost::Chip).unwrap();
    assert!((chip.ohms / (3.1 / 0.05 - 1.8) - 1.0).abs() < 1e-2, "{}", chip.ohms);
    // As a setting it is the same contact.
    let set = plain("battery = \"6 cells\"\ncontact = 30", "");
    assert!((standing_volts(&set, &["sync"], "rail") - (9.0 - 0.05 * 31.8)).abs() < 1e-3);
}

#[test]
fn while_its_contact_is_open_a_reservoir_gives_the_current_and_falls() {
    // 50 mA out of 470 µF: 106 mV a millisecond, from 8.91 V.
    let reservoir = "[board.C1]\ncapacitor = \"470 uF\"\nfrom = \"rail\"\nto = \"ground\"\n";
    let report = asked(&plain("battery = \"6 cells\"", reservoir), Runs::InTime, None);
    let openings = &report.contacts.openings;
    assert_eq!(openings.len(), 3);
    for opening in openings {
        let wanted = 9.0 - 0.05 * 1.8 - 0.05 * opening.open_s / 470e-6;
        let lowest = opening.found.as_ref().unwrap().rails_lowest_v[0];
        assert!((lowest - wanted).abs() < 2e-3, "{} s: {lowest}, {wanted}", opening.open_s);
    }
}

#[test]
fn a_dried_reservoir_lets_as_much_more_ripple_through() {
    // A triangle of 1 V, 10 ms up and down, through 100 Ω into C: parabolas of V T / (8 R C) from trough to
    // crest while R C is many periods. Lines are averaged: they take less than 1 % of it.
    let adapter = "adapter = \"15 V\"\nresistance = 100\nripple = \"1 V\"\nconduction = 0.5";
    let reservoir = "[board.C1]\ncapacitor = \"2000 uF\"\nfrom = \"rail\"\nto = \"ground\"\n";
    let report = asked(&plain(adapter, reservoir), Runs::InTime, None);
    let dried = report.dried.unwrap();
    let formula = |farads: f64| 0.01 / (8.0 * 100.0 * farads);
    let now = dried.now.rails_ripple_v[0];
    assert!((now / formula(2e-3) - 1.0).abs() < 0.03, "{now}");
    for step in dried.parts[0].steps.iter().take(2) {
        let found = step.found.as_ref().unwrap().rails_ripple_v[0];
        let wanted = formula(2e-3 * step.left);
        assert!((found / wanted - 1.0).abs() < 0.05, "{} left: {found}, {wanted}", step.left);
    }
    let last = dried.parts[0].steps.last().unwrap().found.as_ref().unwrap().rails_ripple_v[0];
    assert!(last > 0.1, "5 % of it is no reservoir: {last}");
}

#[test]
fn what_is_left_of_a_worn_reservoir_is_told_from_what_it_is_now() {
    let adapter = "adapter = \"15 V\"\nresistance = 100\nripple = \"1 V\"\nconduction = 0.5";
    let reservoir = "[board.C1]\ncapacitor = \"2000 uF\"\nkind = \"electrolytic\"\n\
                     condition = \"worn\"\nfrom = \"rail\"\nto = \"ground\"\n";
    let report = asked(&plain(adapter, reservoir), Runs::InTime, None);
    // Worn: 70 % is left of it.
    let farads = report.dried.unwrap().parts[0].farads;
    assert!((farads - 0.7 * 2e-3).abs() < 1e-9, "{farads}");
}

/// "Black dips 7 mV per 0.1 V of rail", of the biased follower, computed independently by nodal
/// analysis.
#[test]
fn black_dips_with_the_rail_as_printed() {
    let black_mv = |rail: &str| 1e3 * own_ladder(&example(TABLE, &[rail])).sync.black_v;
    let dip = black_mv("V2=5") - black_mv("V2=4.9");
    assert!((dip - 7.0).abs() < 0.6, "{dip}");
}

#[test]
fn a_beep_takes_what_its_resistance_lets_through() {
    // 9 V behind 1.8 Ω: 50 mA for the chip, v / 98 Ω for the sounder.
    let sounder = "[board.LS1]\nsounder = 8\nseries = 90\nnode = \"rail\"\n";
    let report = at_rest(&plain("battery = \"6 cells\"", sounder));
    let volts = (9.0 - 0.05 * 1.8) / (1.0 + 1.8 / 98.0);
    assert!(report.beep.is_stated);
    assert!((report.beep.amps - volts / 98.0).abs() < 1e-5, "{}", report.beep.amps);
    assert!((report.beep.rails_sag_v[0] - 1.8 * volts / 98.0).abs() < 1e-4);
}

#[test]
fn a_bench_feed_goes_round_what_lies_before_its_node_and_is_held_by_its_limit() {
    let parts = "[board.D1]\ndiode = \"1N4148\"\nanode = \"rail\"\ncathode = \"after\"\n\
                 [board.R1]\nresistor = 10\nfrom = \"after\"\nto = \"far\"\n\
                 [board.R2]\nresistor = 40\nfrom = \"far\"\nto = \"ground\"\n";
    let scenario = plain("battery = \"6 cells\"", parts);
    let node = scenario.circuit.node("far").unwrap();
    let feed = |volts: f64, limit_a: f64| {
        asked(&scenario, Runs::None, Some(Clip { node, volts, limit_a })).bench.unwrap()
    };
    // 3 V behind 0.1 Ω into 40 Ω: the diode holds the rest of the board off.
    let free = feed(3.0, 0.1);
    assert!(!free.alone.is_limited);
    assert!((free.alone.amps - 3.0 / 40.1).abs() < 1e-6, "{}", free.alone.amps);
    let names: Vec<&str> =
        free.bypassed.iter().map(|part| scenario.circuit.parts[part.0].name.as_str()).collect();
    assert_eq!(names, ["D1", "R1"]);
    // 6 V would be 150 mA: 100 mA make 4 V of 40 Ω.
    let held = feed(6.0, 0.1);
    assert!(held.alone.is_limited && (held.alone.node_v - 4.0).abs() < 1e-4);
    // Clipped on at the battery itself, above its volts, it charges the cells: (9.5 - 9) / 1.9 less the chip's.
    let rail = scenario.circuit.node("rail").unwrap();
    let clip = Clip { node: rail, volts: 9.5, limit_a: 2.0 };
    let charged = asked(&scenario, Runs::None, Some(clip)).bench.unwrap();
    let (_, amps) = charged.together.fed[0];
    assert!(amps > 0.1, "{amps}");
    assert!(charged.bypassed.is_empty());
}

#[test]
fn a_tank_follows_the_chips_supply_if_it_is_said_to() {
    let sets = ["chip.clock.coil=25.5uH", "chip.clock.capacitor=220pF"];
    let still = at_rest(&example(DRIVER, &sets));
    let hertz = |report: &SupplyReport, step: usize| report.discharge.steps[step].look.clock_hz;
    assert!((hertz(&still, 0) - hertz(&still, 10)).abs() < 1e-9);
    let drift = ["chip.clock.supply_drift=1000 ppm"];
    let moves = at_rest(&example(DRIVER, &[&sets[..], &drift[..]].concat()));
    let nominal = hertz(&still, 0);
    for step in &moves.discharge.steps {
        let wanted = nominal * (1.0 + 1e-3 * (step.look.chip_v.unwrap() - 6.5));
        assert!((step.look.clock_hz - wanted).abs() < 1.0, "{} {wanted}", step.look.clock_hz);
    }
}

#[test]
fn sound_dims_the_picture_in_bars_of_its_tone() {
    // 1 kHz: half a period is 7.8 lines. The socket hangs on the rail itself.
    let parts = "[board.LS1]\nsounder = 8\nseries = 92\ntone = \"1 kHz\"\nfirst = \"5 ms\"\n\
                 beep = \"10 ms\"\nnode = \"rail\"\n\
                 [board.R1]\nresistor = \"4k7\"\nfrom = \"rail\"\nto = \"plug\"\n";
    let scenario = plain("battery = \"6 cells\"\nresistance = 10", parts);
    let rail = scenario.circuit.node("rail").unwrap();
    let bench = Bench::new(&scenario, &[rail]).unwrap();
    let field = bench.run().unwrap().advance_field(&mut |_| {}).unwrap();
    let volts = &field.traces[1].volts;
    let at = |seconds: f64| f64::from(volts[math::floor_index(seconds * 16e6)]);
    let quiet = 9.0 - 0.05 * 10.0;
    let loud = quiet / (1.0 + 10.0 / 100.0);
    for (seconds, wanted) in
        [(4.9e-3, quiet), (5.25e-3, loud), (5.75e-3, quiet), (14.25e-3, loud), (15.25e-3, quiet)]
    {
        // The socket takes a little as well.
        assert!((at(seconds) - wanted).abs() < 0.03, "{seconds}: {} {wanted}", at(seconds));
    }
    // At the plug the rail's 4.7 kΩ meet 2 kΩ of sync, 1.47 kΩ of the bar and the set's 75 Ω, so that black
    // is lower in the loud halves by that share of what the rail loses. A line is long enough for both.
    let timing = &scenario.raster.timing;
    let black = porches(&field.traces[0], timing);
    let siemens = [4700.0, 2000.0, 1470.0, 75.0].map(f64::recip);
    let dims_v = (quiet - loud) * siemens[0] / siemens.iter().sum::<f64>();
    let line = |seconds: f64| {
        let first = math::to_index(u64::from(timing.field_sync_lines));
        black[math::floor_index(seconds * timing.line_hz()) - first]
    };
    for beat in 0..10 {
        let begins_s = 5e-3 + 1e-3 * f64::from(beat);
        let found = line(begins_s + 0.75e-3) - line(begins_s + 0.25e-3);
        assert!((found / dims_v - 1.0).abs() < 0.05, "{beat}: {found} {dims_v}");
    }
}

#[test]
fn the_program_writes_a_picture_and_tells_all_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let done =
        backporch(&["supply", DRIVER, "--at-rest", "--feed", "rail5=5V", "--json", "-o", out]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let report: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(report["source"], "V1");
    assert_eq!(report["steps"].as_array().unwrap().len(), 11);
    assert_eq!(report["bench"]["bypassed"][0], "U2");
    assert!(report["bench"]["alone"]["backward_v"]["U2"].as_f64().unwrap() > 4.0);
    let picture = image::open(folder.path().join("supply.png")).unwrap();
    assert_eq!(picture.width(), 1360);
    let said = |arguments: &[&str]| {
        let done = backporch(&[&["supply", DRIVER, "-o", out][..], arguments].concat());
        assert_eq!(done.status.code(), Some(2), "{arguments:?}");
        String::from_utf8(done.stderr).unwrap()
    };
    assert!(said(&["--source", "V2"]).contains("V1"));
    assert!(said(&["--feed", "rail55=5V"]).contains("did you mean `rail5`"));
    assert!(said(&["--feed", "rail5"]).contains("has no `=`"));
    assert!(said(&["--set", "V1.openings=2", "--set", "V1.opens_at=1ms"]).contains("not both"));
}

#[test]
fn a_rail_that_a_contact_lets_go_is_followed_to_nothing_and_back() {
    let raw = |sets: &[&str]| {
        let scenario = example(DRIVER, sets);
        let node = scenario.circuit.node("raw").unwrap();
        let bench = Bench::new(&scenario, &[node]).unwrap();
        let field = bench.run().unwrap().advance_field(&mut |_| {}).unwrap();
        field.traces[1].volts.clone()
    };
    let (opened, closed) = (raw(&["V1.opens_at=5ms", "V1.open_for=3ms"]), raw(&[]));
    let apart = |from_s: f64, until_s: f64| {
        let samples = math::floor_index(from_s * 16e6)..math::floor_index(until_s * 16e6);
        let pairs = opened[samples.clone()].iter().zip(&closed[samples]);
        pairs.fold(0.0_f32, |most, (one, other)| most.max((one - other).abs()))
    };
    assert!(apart(0.0, 4.999e-3) < 1e-3, "before: {}", apart(0.0, 4.999e-3));
    // Nothing holds it but what is left of the chip and the regulator: no reservoir is on this board.
    let open = &opened[math::floor_index(5.1e-3 * 16e6)..math::floor_index(7.9e-3 * 16e6)];
    let most = open.iter().copied().fold(f32::MIN, f32::max);
    assert!(most.abs() < 0.5, "{most}");
    assert!(closed.iter().all(|&volts| volts > 7.0));
    assert!(apart(8.1e-3, 19.9e-3) < 1e-3, "after: {}", apart(8.1e-3, 19.9e-3));
}

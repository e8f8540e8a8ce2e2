//! Controllers: every printed figure, the field by field wobble of a scenario, and the command.

use crate::boards::example;
use crate::program::backporch;
use crate::published;
use backporch::analysis::knob::KnobMap;
use backporch::analysis::knob::Question;
use backporch::analysis::knob::buy;
use backporch::analysis::knob::buy::Cover;
use backporch::analysis::knob::knob_map;
use backporch::base::diagnostic::Source;
use backporch::document::problems::Problems;
use backporch::document::syntax::parse;
use backporch::profile;
use backporch::profile::builtin;
use backporch::raster::controller::Controllers;
use backporch::raster::controller::Start;
use backporch::raster::generate::Raster;
use backporch::raster::plan::Content;
use backporch::scenario::Scenario;
use backporch::scenario::controller;
use backporch::scenario::load;
use backporch::signal::pulse_train::FieldTrains;
use backporch::signal::timing::FieldTiming;
use std::fs;
use std::sync::Arc;

const ALL_TRACK: &str = "travel = 300\nflat = 0\n";
const PIER: &str = "scenarios/pier-knobs.toml";

fn timing(chip: &str) -> FieldTiming {
    let text = builtin::text(chip).unwrap().to_owned();
    let root = parse(&Arc::new(Source { name: chip.to_owned(), text })).root;
    profile::read(&root, &Problems::default()).unwrap().timing
}

/// The map of a left controller in the words of a scenario.
fn asked(chip: &str, words: &str) -> Question {
    let text = words.to_owned();
    let root = parse(&Arc::new(Source { name: "words".to_owned(), text })).root;
    let problems = Problems::default();
    let timing = timing(chip);
    let read = controller::alone(&root, timing.field_hz(), &problems);
    assert!(problems.is_empty(), "{:?}", problems.into_sorted());
    let (one, common_ohms) = read.unwrap();
    let controllers = Controllers { sides: [Some(one), None], common_ohms };
    Question { controllers, side: 0, timing, wanted: 52.0..232.0, paddle_lines: 48 }
}

fn map(words: &str) -> KnobMap {
    knob_map(&asked("two-player-50", words))
}

fn line_at(map: &KnobMap, percent: usize) -> f64 {
    map.points[percent].line.unwrap()
}

/// Whether a value, rounded to so many decimals, is what was printed.
fn prints(value: f64, printed: f64, decimals: i32) -> bool {
    let unit = backporch::base::math::pow(10.0, f64::from(-decimals));
    (value - printed).abs() <= 0.5 * unit * (1.0 + 1e-9)
}

#[test]
fn times_are_those_of_the_printed_thresholds() {
    for (threshold, row) in published::numbers("controller_threshold.csv") {
        let words = format!("threshold = {threshold}\nseries = 0");
        let ramp = asked("two-player-50", &words).controllers.sides[0].unwrap().ramp;
        let ms = |ohms: f64| 1e3 * ramp.crossing_s(ohms).unwrap();
        assert!(prints(ms(1e6) / 100.0, row[0], 3), "{threshold}: {}", ms(1e6));
        assert!(prints(ms(1e6), row[1], 1) && prints(ms(1e4), row[2], 2), "{threshold}");
    }
}

#[test]
fn resistances_that_sweep_the_picture_are_as_printed() {
    for row in published::rows("controller_sweep.csv") {
        let number = |at: usize| row[at].parse::<f64>().unwrap();
        let question = asked(&row[0], "");
        let seconds = number(1) / question.timing.line_hz();
        let ohms = question.controllers.sides[0].unwrap().ramp.ohms_for(seconds);
        assert!(prints(1e-3 * ohms, number(2), row[3].parse().unwrap()), "{row:?} {ohms}");
    }
}

#[test]
fn laws_give_the_printed_lines() {
    for row in published::rows("controller_law.csv") {
        let map = map(&format!("law = \"{}\"\n{ALL_TRACK}", row[0]));
        for (percent, printed) in [10, 25, 50, 75, 90].into_iter().zip(&row[1..]) {
            let line = line_at(&map, percent);
            assert!(prints(line, printed.parse().unwrap(), 0), "{row:?} {percent} %: {line}");
        }
    }
}

#[test]
fn a_falling_supply_moves_the_paddle_by_the_printed_lines_only_if_the_threshold_is_fixed() {
    let found = map(ALL_TRACK);
    let rows = published::numbers("controller_supply.csv");
    assert_eq!(rows.len(), found.supplies.len());
    for ((printed_v, row), (supply_v, line)) in rows.iter().zip(&found.supplies) {
        assert!((printed_v.parse::<f64>().unwrap() - supply_v).abs() < 1e-9);
        assert!(prints(line.unwrap(), row[0], 0), "{supply_v} V: {line:?}");
    }
    let share = map("threshold = \"15 %\"");
    assert!(share.lines_per_volt_less.unwrap().abs() < 1e-9);
}

#[test]
fn a_leak_moves_the_paddle_to_the_printed_lines() {
    for row in published::rows("controller_leak.csv") {
        let leak = match row[0].as_str() {
            "none" => String::new(),
            megohms => format!("leak = \"{megohms} M\"\n"),
        };
        let map = map(&format!("potentiometer = \"900 k\"\nseries = 0\n{leak}{ALL_TRACK}"));
        let line = line_at(&map, 100);
        assert!(prints(line, row[1].parse().unwrap(), 0), "{row:?}: {line}");
    }
}

/// The printed figures are those of the track alone; with the 10 k in series the ramp passes at
/// 108 V/s, 6.9 mV a line.
#[test]
fn hum_and_noise_wobble_by_the_printed_lines() {
    let printed = published::numbers("controller_hum.csv");
    let value = |name: &str| printed.iter().find(|(known, _)| known == name).unwrap().1[0];
    let with = |hum: &str| map(&format!("series = 0\nhum = \"{hum}\"\n{ALL_TRACK}"));
    let [half, full] = with("5 mV").restless.map(Option::unwrap);
    assert!(prints(half.slope, value("half turn V/s to two figures"), -1), "{half:?}");
    assert!(prints(1e3 * half.volts_per_line, value("half turn mV a line"), 1));
    assert!(prints(1e3 * full.volts_per_line, value("full turn mV a line"), 1));
    assert!(prints(half.hum_lines, value("lines of 5 mV"), 1), "{half:?}");
    let more = with("20 mV").restless[0].unwrap();
    assert!(prints(more.hum_lines, value("lines of 20 mV"), 1), "{more:?}");
    assert!(prints(half.percent_lines, value("lines of 1 % of 1 M"), 1));
    let ten_k = map(&format!("standing_noise = \"1 %\"\n{ALL_TRACK}")).restless[0].unwrap();
    assert!(prints(ten_k.standing_lines, value("lines of 10 k of noise"), 1));
}

#[test]
fn leads_and_the_top_of_the_track_are_as_printed() {
    let printed = published::numbers("controller_other.csv");
    let value = |name: &str| printed.iter().find(|(known, _)| known == name).unwrap().1[0];
    let moved = |capacitor: &str| {
        let line = |cable: &str| {
            line_at(&map(&format!("capacitor = \"{capacitor}\"\ncable = \"{cable}\"")), 50)
        };
        100.0 * (line("150 p") / line("0") - 1.0)
    };
    assert!(prints(moved("100 n"), value("150 pF on 100 nF %"), 2));
    assert!(prints(moved("10 n"), value("150 pF on 10 nF %"), 1));
    for (chip, line, name) in [
        ("two-player-60", 30.0, "track above line 30 at 60 Hz %"),
        ("two-player-50", 40.0, "track above line 40 at 50 Hz %"),
    ] {
        let question = Question { wanted: line..200.0, ..asked(chip, ALL_TRACK) };
        let percent = knob_map(&question).turn.above_deg / 3.0;
        assert!(prints(percent, value(name), 0), "{chip}: {percent}");
    }
    let words = format!("capacitor = \"20 n\"\nseries = 0\nthreshold = \"50 %\"\n{ALL_TRACK}");
    let line = line_at(&map(&words), 100);
    assert!(prints(line, value("1 M and 20 nF to half supply lines"), 2), "{line}");
}

/// 1 M with 10 k ends at line 263.6 at 50 Hz: it just misses line 280, and 120 nF do not.
#[test]
fn a_megohm_just_misses_the_bottom_and_what_is_bought_does_not() {
    let question = Question { wanted: 40.0..280.0, ..asked("two-player-50", "") };
    let judged = |farads: f64| buy::choice(&question, &buy::USUAL, 1e6, farads);
    assert_eq!(judged(100e-9).cover, Cover::Short);
    assert_eq!(judged(120e-9).cover, Cover::Nominal);
    let choices = buy::choices(&question, &buy::USUAL);
    let best = choices[0];
    assert_eq!(best.cover, Cover::Always);
    // Small specimens get to the bottom, large ones to the top.
    assert!(best.lowest.is_none_or(|line| line >= 280.0) && best.highest.unwrap() <= 40.0);
    let always = choices.iter().filter(|choice| choice.cover == Cover::Always);
    assert!(always.clone().all(|choice| choice.wanted_deg < best.wanted_deg + 5.0));
    assert!(always.count() > 3);
}

#[test]
fn dead_zones_add_up_to_the_rotation_and_a_lead_in_common_couples_the_knobs() {
    for words in ["", "law = \"audio\"", "reversed = true", "capacitor = \"150 n\""] {
        let turn = map(words).turn;
        let whole = turn.above_deg + turn.wanted_deg + turn.below_deg;
        assert!((whole - 300.0).abs() < 1e-6, "{words}: {turn:?}");
        assert!((turn.dead_deg - 25.8).abs() < 1e-9);
    }
    let coupled = |common: &str| {
        let mut question = asked("two-player-50", &format!("common = \"{common}\""));
        question.controllers.sides[1] = question.controllers.sides[0];
        knob_map(&question).other_lines.unwrap()
    };
    assert!(coupled("5") < 0.1, "{}", coupled("5"));
    assert!(coupled("20 k") > 1.0);
}

/// Both players hang on one supply: where it droops, either paddle moves alike.
#[test]
fn either_player_sees_the_supply_droop() {
    let [left, right] = [0, 1].map(|side| {
        let mut question = Question { side, ..asked("two-player-50", "common = \"1 k\"") };
        question.controllers.sides = [question.controllers.sides[0]; 2];
        knob_map(&question).lines_per_volt_less.unwrap()
    });
    assert!(left > 1.0 && (left - right).abs() < 1e-6, "{left} {right}");
}

fn scenario(set: &[&str]) -> Scenario {
    let still = ["controller.turning=0"];
    example(PIER, &[&still[..], set].concat())
}

/// First line of the left paddle in so many fields; `None` where it is not drawn.
fn first_lines(scenario: &Scenario, fields: usize) -> Vec<Option<u32>> {
    let mut raster = Raster::new(&scenario.raster).unwrap();
    let first = |field: &FieldTrains| {
        let left = field.map.shapes.iter().position(|shape| shape.name == "left").unwrap();
        let lines = field.map.patches.iter().filter(|patch| patch.shape == left);
        lines.map(|patch| patch.line).min()
    };
    (0..fields).map(|_| first(&raster.advance_field())).collect()
}

fn spread(lines: &[Option<u32>]) -> (f64, f64) {
    let lines: Vec<f64> = lines.iter().map(|line| f64::from(line.unwrap())).collect();
    let count = f64::from(u32::try_from(lines.len()).unwrap());
    let mean = lines.iter().sum::<f64>() / count;
    let squares: f64 = lines.iter().map(|line| (line - mean) * (line - mean)).sum();
    (mean, (squares / count).sqrt())
}

#[test]
fn a_scenarios_paddle_stands_where_its_controller_puts_it_and_wobbles_as_computed() {
    let clean = ["controller.hum=0", "controller.standing_noise=0", "controller.spikes=0"];
    let still = scenario(&[&clean[..], &["controllers.left.knob=0.5"]].concat());
    let Content::Game(_, state) = &still.raster.content else { panic!("no game") };
    let starts = state.controllers.as_ref().unwrap().starts(0, &still.raster.timing);
    let Some(Start::Line(line)) = starts[0] else { panic!("{starts:?}") };
    assert!(
        first_lines(&still, 5)
            .iter()
            .all(|&found| { (f64::from(found.unwrap()) - line).abs() <= 0.5 })
    );
    // Standing noise of 1 % of 1 M: 2.6 lines; 400 fields tell a deviation to 4 %, and whole lines
    // add 0.04 to 2.61. Bars of three deviations.
    let noisy = scenario(&[
        "controller.hum=0",
        "controller.spikes=0",
        "controller.cleaned=false",
        "controller.standing_noise=1%",
    ]);
    let (mean, deviation) = spread(&first_lines(&noisy, 400));
    assert!((deviation - 2.63).abs() < 0.3, "{deviation}");
    let cleaned = scenario(&[
        "controller.hum=0",
        "controller.spikes=0",
        "controller.cleaned=true",
        "controller.standing_noise=1%",
    ]);
    let (cleaned_mean, cleaned) = spread(&first_lines(&cleaned, 400));
    assert!((cleaned * cleaned - 1.0 / 12.0).max(0.0).sqrt() < 0.65, "{cleaned}");
    assert!((mean - cleaned_mean).abs() < 0.6);
    assert_eq!(first_lines(&noisy, 40), first_lines(&noisy, 40));
    let other = scenario(&[
        "controller.hum=0",
        "controller.spikes=0",
        "controller.standing_noise=1%",
        "controller.seed=2",
    ]);
    assert_ne!(first_lines(&noisy, 40), first_lines(&other, 40));
}

/// 50 Hz against 50.08: a beat of 12.48 s, 625 fields, to and fro by 20 mV / 6.9 mV a line.
#[test]
fn hum_bobs_at_the_beat_of_field_and_mains() {
    let hum = scenario(&[
        "controller.hum=20mV",
        "controller.standing_noise=0",
        "controller.spikes=0",
        "controllers.left.knob=0.5",
    ]);
    let lines = first_lines(&hum, 625);
    let all: Vec<u32> = lines.iter().map(|line| line.unwrap()).collect();
    let swing = all.iter().max().unwrap() - all.iter().min().unwrap();
    assert!((5..=7).contains(&swing), "{swing}");
    let slowly = all.windows(2).all(|pair| pair[0].abs_diff(pair[1]) <= 1);
    assert!(slowly);
    let again = first_lines(&hum, 1250);
    assert!((0..625).all(|field| again[field].unwrap().abs_diff(again[field + 625].unwrap()) <= 1));
}

/// 0.5 of 60 degrees a field, for the 60 fields until the knob leaves the zone: 15 spikes and 10
/// openings are expected.
#[test]
fn a_worn_zone_spikes_downwards_while_it_is_crossed_and_opens_now_and_then() {
    let worn = |more: &[&str]| {
        let common = [
            "controller.condition=worn",
            "controller.hum=0",
            "controller.standing_noise=0",
            "controllers.left.knob=0.5",
        ];
        let scenario = scenario(&[&common[..], more].concat());
        first_lines(&scenario, 200)
    };
    let at_rest = worn(&[]);
    assert!(at_rest.iter().all(|line| *line == at_rest[0]));
    let turned = worn(&[
        "controller.turning=0.5 deg",
        "controller.zone_width=60 deg",
        "controller.spikes=30",
        "controller.openings=20",
    ]);
    assert!(turned.iter().take(60).any(|line| line.is_none()), "it never opens");
    let smooth =
        worn(&["controller.turning=0.5 deg", "controller.spikes=0", "controller.openings=0"]);
    let mut spikes = 0;
    for (rough, smooth) in turned.iter().zip(&smooth) {
        if let (Some(rough), Some(smooth)) = (rough, smooth) {
            assert!(rough >= smooth, "a contact only ever adds: {rough} {smooth}");
            spikes += u32::from(rough > smooth);
        }
    }
    assert!(spikes > 5, "{spikes}");
}

#[test]
fn without_a_controller_the_paddle_stands_as_before_and_mistakes_are_shown() {
    let errors = |set: &str| {
        let set = [set.to_owned()];
        let all = load(PIER, &set, &mut |path| fs::read_to_string(path)).unwrap_err();
        all.into_iter().map(|one| one.message).collect::<Vec<_>>().join("\n")
    };
    assert!(errors("controller.threshold=7 V").contains("never passed"));
    assert!(errors("controller.travel=320").contains("320° in a rotation of 300°"));
    assert!(errors("controller.potentiomter=1M").contains("no key `potentiomter`"));
    assert!(errors("controller.law=log").contains("unknown law `log`"));
    assert!(errors("controllers.middle.knob=1").contains("no key `middle`"));
    let plain = example("scenarios/chapel-follower.toml", &[]);
    let Content::Game(_, state) = &plain.raster.content else { panic!("no game") };
    assert_eq!(state.controllers, None);
}

#[test]
fn the_command_prints_draws_and_refuses() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&["knob", "--law", "audio", "--hum", "5mV", "-o", out]);
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("1 MΩ with 9.1 % of the track at half travel"), "{said}");
    assert!(said.contains("0.08 Hz beat"), "{said}");
    assert!(folder.path().join("knob-left.png").exists());
    let json = backporch(&["knob", PIER, "--player", "right", "--json", "--no-pictures"]);
    let report: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(report["player"], "right");
    assert_eq!(report["points"].as_array().unwrap().len(), 101);
    for (arguments, wanted) in [
        (&["knob", "--law", "log"][..], "unknown law `log`"),
        (&["knob", "--capacitor", "100 k"], "the capacitance is too large"),
        (&["knob", "--wanted", "40"], "`40` is no range of lines"),
        (&["knob", "--chip", "two-player-55"], "no built-in chip"),
        (&["knob", PIER, "--law", "audio"], "`--set controller.law=audio`"),
        (&["knob", "scenarios/chapel-follower.toml"], "no controller for the left"),
    ] {
        let output = backporch(arguments);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(said.contains(wanted), "{arguments:?}: {said}");
    }
}

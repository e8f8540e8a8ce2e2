//! The way through the air: published levels and channels, the sidebands against a discrete Fourier
//! transform, noise against its formula, and what the program says of it.

use crate::boards::example;
use crate::program::backporch;
use crate::published;
use crate::published::show;
use backporch::analysis::examine::glance;
use backporch::analysis::modulation::BUZZ_CARRIER;
use backporch::analysis::modulation::WhiteWord;
use backporch::analysis::modulation::modulation;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::path::filter::Sideband;
use backporch::path::filter::response;
use backporch::path::link::Link;
use backporch::path::noise::noise_v;
use backporch::path::spec::Detector;
use backporch::path::spec::PathSpec;
use backporch::path::system::Channel;
use backporch::path::system::NOISE_FREE_V;
use backporch::path::system::OUTPUT_LIMIT_V;
use backporch::path::system::System;
use backporch::signal::trace::Trace;
use std::f64::consts::TAU;

const RATE_HZ: f64 = 16e6;
const PUB: &str = "scenarios/pub-modulator.toml";
const QUIETER: &str = "scenarios/pub-quieter.toml";

fn spec(system: System) -> PathSpec {
    PathSpec {
        system,
        channel: Channel::usual(system),
        full_carrier_v: 0.0,
        no_carrier_v: 1.0,
        level_v: 1e-3,
        noise_figure_db: None,
        agc_s: 0.05,
        detector: Detector::Envelope,
        seed: 0,
    }
}

fn trace(volts: Vec<f32>) -> Trace {
    let rate = ClockRate::new(16_000_000, 1).unwrap();
    Trace { node: "modulator".to_owned(), rate, volts }
}

/// The program's value of a published row, in the row's unit.
fn of_program(id: &str) -> f64 {
    let (first, second) = id.split_once('.').unwrap_or((id, ""));
    let system = System::NAMED.iter().find(|(name, _)| *name == first).map(|(_, one)| *one);
    if let Some(system) = system {
        let data = system.data();
        return match second {
            "sync" => 100.0 * tip_carrier(first),
            "blank" => 100.0 * data.blanking.nominal,
            "white" => 100.0 * data.white.nominal,
            "sound" => 1e-6 * data.sound_hz,
            "vestige" => 1e-6 * data.vestige_hz,
            "main" => 1e-6 * data.main_hz,
            _ => panic!("{id}"),
        };
    }
    // A linear modulator fed so that white leaves so much: what is left at blanking.
    let linear = |white: f64, sync_share: f64| {
        let path = PathSpec { no_carrier_v: 1.0 / (1.0 - white), ..spec(System::Bg) };
        100.0 * path.carrier(sync_share)
    };
    let channel = || Channel::from_name(second).unwrap();
    let megahertz = |system: System| 1e-6 * (channel().vision_hz() + system.data().sound_hz);
    match (first, second) {
        ("check", "M") => linear(0.125, 40.0 / 140.0),
        ("check", "I") => linear(0.20, 0.3),
        ("check", "BG10") => linear(0.10, 0.3),
        ("check", "BG125") => linear(0.125, 0.3),
        ("nyq", _) => 20.0 * math::log10(passed(System::M, 0.0) / passed(System::M, 2e6)),
        ("ch", _) => 1e-6 * channel().vision_hz(),
        ("sound", "36") => megahertz(System::I),
        ("sound", _) => megahertz(System::M),
        ("limit", _) => 1e3 * OUTPUT_LIMIT_V,
        ("need", _) => 1e3 * NOISE_FREE_V,
        ("res", "5") => 20.0 * math::log10(BUZZ_CARRIER),
        ("res", share) => {
            let volts = 1.0 - 0.01 * share.parse::<f64>().unwrap();
            20.0 * math::log10(spec(System::Bg).carrier(volts))
        }
        _ => panic!("nobody has `{id}`"),
    }
}

#[test]
fn levels_channels_and_limits_are_the_published_ones() {
    let rows = published::rows("rf.csv");
    assert!(rows.len() >= 38, "{}", rows.len());
    for row in rows {
        let [id, _, value, _, low, high, _] = &row[..] else { panic!("{row:?}") };
        let found = of_program(id);
        // As many figures as are printed.
        let decimals = value.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        let half = 0.5 * math::pow(10.0, -math::from_usize(decimals));
        let value: f64 = value.parse().unwrap();
        assert!((found - value).abs() <= half * 1.000_001, "{id}: {found} is not {value}");
        if let (Ok(low), Ok(high)) = (low.parse::<f64>(), high.parse::<f64>()) {
            assert!((low..=high).contains(&found), "{id}: {found}");
            let window = System::NAMED.iter().find_map(|(name, system)| {
                let data = system.data();
                let kind = id.strip_prefix(name)?;
                Some(if kind == ".blank" { data.blanking } else { data.white })
            });
            if let Some(window) = window {
                let ends = [100.0 * window.low, 100.0 * window.high];
                assert!((ends[0] - low).abs() + (ends[1] - high).abs() < 1e-9, "{id}");
            }
        }
    }
}

/// The carrier of a board's sync tip as a share of the full one, by the volts of the tip and the
/// modulator's own; nothing else on the board has as much.
fn tip_carrier(system: &str) -> f64 {
    let channel = if system == "M" { "A3" } else { "36" };
    let sets = [format!("modulator.system={system}"), format!("modulator.channel={channel}")];
    let scenario = example(QUIETER, &[&sets[0], &sets[1]]);
    let path = &scenario.modulator.as_ref().unwrap().path;
    let found = modulation(&scenario).unwrap().unwrap();
    let tip = path.carrier(found.tip.volts);
    let others =
        found.elements.iter().map(|element| element.level.volts).chain([found.black.volts]);
    let most = others.map(|volts| path.carrier(volts)).fold(0.0, f64::max);
    assert!(most > 0.5 && most < 0.9 * tip, "{system}: {most} of {tip}");
    tip
}

/// What the filter's taps pass at an offset, by the transform of what they make of one sample.
fn passed(system: System, offset_hz: f64) -> f64 {
    let filter = Sideband::new(&system.data(), 1.0 / RATE_HZ).unwrap();
    let half = filter.half();
    let mut impulse = vec![0.0; 4 * half + 1];
    impulse[2 * half] = 1.0;
    let (re, im) = filter.filtered(&impulse, &vec![0.0; 4 * half + 1]);
    let (mut a, mut b) = (0.0, 0.0);
    for (at, (re, im)) in re.iter().zip(&im).enumerate() {
        let angle = -TAU * offset_hz * (math::from_usize(at) - math::from_usize(half)) / RATE_HZ;
        let (cos, sin) = (math::cos(angle), math::sin(angle));
        a += re * cos - im * sin;
        b += re * sin + im * cos;
    }
    (a * a + b * b).sqrt()
}

/// The straight lines of the published widths, but for corners, which 12 µs of filter round off.
#[test]
fn the_sidebands_are_passed_as_designed() {
    for system in [System::Bg, System::I, System::M] {
        let data = system.data();
        for offset_hz in [-0.4e6, 0.0, 0.4e6, 2e6, data.main_hz - 0.3e6] {
            let (found, meant) = (passed(system, offset_hz), 2.0 * response(&data, offset_hz));
            assert!((found - meant).abs() < 0.005, "{system:?} {offset_hz}: {found} {meant}");
        }
        for offset_hz in [-7e6, -2e6, -data.vestige_hz - 0.25e6, data.sound_hz + 0.25e6] {
            assert!(passed(system, offset_hz) < 0.002, "{system:?} {offset_hz}");
        }
        // What one sideband lacks the other has.
        let both = passed(system, -0.3e6) + passed(system, 0.3e6);
        assert!((both - 2.0).abs() < 0.002, "{system:?} {both}");
    }
}

/// Lines of 64 µs: tip, black, a bar of white.
fn line_volts(at: usize, levels: [f64; 3]) -> f64 {
    match at % 1024 {
        0..75 => levels[0],
        400..480 => levels[2],
        _ => levels[1],
    }
}

/// One line by the discrete Fourier transform, sideband by sideband: length and part in phase.
fn by_transform(system: System, levels: [f64; 3]) -> Vec<(f64, f64)> {
    const N: usize = 1024;
    let path = spec(system);
    let x: Vec<f64> = (0..N).map(|at| path.carrier(line_volts(at, levels))).collect();
    let angle = |k: usize, n: usize| TAU * math::from_usize(k * n % N) / math::from_usize(N);
    let spectrum: Vec<(f64, f64)> = (0..N)
        .map(|k| {
            let bins = math::from_usize(k) - if k >= N / 2 { math::from_usize(N) } else { 0.0 };
            let offset_hz = bins * RATE_HZ / math::from_usize(N);
            let weight = 2.0 * response(&system.data(), offset_hz) / math::from_usize(N);
            let sum = |part: fn(f64) -> f64| -> f64 {
                x.iter().enumerate().map(|(n, x)| x * part(-angle(k, n))).sum()
            };
            (weight * sum(math::cos), weight * sum(math::sin))
        })
        .collect();
    (0..N)
        .map(|n| {
            let (mut re, mut im) = (0.0, 0.0);
            for (k, (a, b)) in spectrum.iter().enumerate().filter(|(_, bin)| bin.0 + bin.1 != 0.0) {
                let (cos, sin) = (math::cos(angle(k, n)), math::sin(angle(k, n)));
                re += a * cos - b * sin;
                im += a * sin + b * cos;
            }
            ((re * re + im * im).sqrt(), re)
        })
        .collect()
}

/// The bar has 12.5 % of carrier on 75 %: the case in which an envelope detector is at its worst.
#[test]
fn a_modulated_step_is_what_a_fourier_transform_makes_of_it() {
    let levels = [0.0, 0.25, 0.875];
    for system in [System::Bg, System::M] {
        let expected = by_transform(system, levels);
        let input: Vec<f32> =
            (0..64 * 1024).map(|at| math::to_f32(line_volts(at, levels))).collect();
        let received = |detector| {
            let path = PathSpec { detector, ..spec(system) };
            let volts = Link::new(&path, 1.0 / RATE_HZ).unwrap().send(&trace(input.clone()));
            volts.unwrap().volts[10 * 1024..11 * 1024].to_vec()
        };
        let (envelope, phase) = (received(Detector::Envelope), received(Detector::Synchronous));
        let path = spec(system);
        let (mut worst, mut apart) = (0.0_f64, 0.0_f64);
        for (at, &(length, in_phase)) in expected.iter().enumerate() {
            let off = |found: f32, meant: f64| (f64::from(found) - path.detected_v(meant)).abs();
            worst = worst.max(off(envelope[at], length)).max(off(phase[at], in_phase));
            apart = apart.max((f64::from(envelope[at]) - f64::from(phase[at])).abs());
        }
        show(&format!("{system:?}: {worst:.4} V off the transform, detectors {apart:.3} V apart"));
        // Of 1.2 V; the gain control looks at 3 µs of a tip that rings a little.
        assert!(worst < 0.003, "{system:?}: {worst} V off");
        // Quadrature distortion: there, and gone where the step has settled.
        assert!(apart > 0.05, "{system:?}: {apart} V apart");
        assert!((f64::from(envelope[440]) - f64::from(phase[440])).abs() < 0.005, "{system:?}");
    }
}

/// √(k T₀ B R F): −174 dBm in a hertz, 67 dB of band, 8 dB of figure: −99.0 dBm, 3.08 µV at 75 Ω.
#[test]
fn noise_is_that_of_the_stated_figure() {
    assert!((1e6 * noise_v(8.0, 5e6) - 3.08).abs() < 0.01);
    let path = PathSpec {
        noise_figure_db: Some(8.0),
        detector: Detector::Synchronous,
        ..spec(System::Bg)
    };
    let output = Link::new(&path, 1.0 / RATE_HZ).unwrap().send(&trace(vec![0.0; 300_000])).unwrap();
    let all: Vec<f64> = output.volts.iter().map(|&volts| f64::from(volts)).collect();
    let mean = all.iter().sum::<f64>() / 300_000.0;
    let deviation = (all.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 300_000.0).sqrt();
    // What the response passes of a white noise, as if it were 1 wide; half of it is in phase.
    let band_hz: f64 = (-2000..8000)
        .map(|k| {
            let passed = 2.0 * response(&System::Bg.data(), 1e3 * f64::from(k));
            1e3 * passed * passed
        })
        .sum();
    let expected = 1.2 * noise_v(8.0, band_hz) / (1e-3 * 2.0_f64.sqrt());
    show(&format!("noise {:.3} mV, expected {:.3}", 1e3 * deviation, 1e3 * expected));
    assert!((deviation / expected - 1.0).abs() < 0.02, "{deviation} {expected}");
    assert!(mean.abs() < 0.01, "the tip is held: {mean}");
}

#[test]
fn the_same_seed_is_the_same_noise_and_no_two_fields_are() {
    let path = PathSpec { noise_figure_db: Some(8.0), ..spec(System::M) };
    let fields = |path: &PathSpec| {
        let mut link = Link::new(path, 1.0 / RATE_HZ).unwrap();
        let field = trace(vec![0.3; 5000]);
        [link.send(&field).unwrap(), link.send(&field).unwrap()]
    };
    assert!(fields(&path) == fields(&path));
    let [first, second] = fields(&path);
    assert!(first != second);
    assert!(fields(&PathSpec { seed: 1, ..path.clone() })[0] != first);
}

/// A modulator whose tip never reaches full carrier: gain control brings it to 100 %.
#[test]
fn gain_control_holds_the_tip_whatever_the_bias() {
    for bias in ["0 V", "-300 mV"] {
        let sets = [format!("modulator.full_carrier={bias}"), "modulator.feed=4k7".to_owned()];
        let board = example(PUB, &[&sets[0], &sets[1]]);
        let found = modulation(&board).unwrap().unwrap();
        let reading = glance(&board).unwrap();
        assert!(reading.tip_v.abs() < 0.006, "{bias}: {}", reading.tip_v);
        let depth_v = reading.black_v - reading.tip_v;
        assert!((depth_v - found.depth_v).abs() < 0.006, "{bias}: {depth_v} {}", found.depth_v);
        assert!((found.tip.carrier - 1.0).abs() < 1e-9);
    }
}

#[test]
fn a_low_feed_resistor_crushes_white_and_buzzes_and_a_high_one_keeps_the_players() {
    let hot = modulation(&example(PUB, &[])).unwrap().unwrap();
    assert_eq!(hot.word, WhiteWord::Crushed);
    assert!(hot.buzz.is_heard() && hot.buzz.level_db > -30.0, "{:?}", hot.buzz);
    let quiet = modulation(&example(QUIETER, &[])).unwrap().unwrap();
    assert!(!quiet.buzz.is_heard());
    assert!(quiet.white.carrier > 0.10 && (0.725..0.775).contains(&quiet.black.carrier));
    // By hand: A = (0.8 − v) / 0.8.
    for level in quiet.elements.iter().map(|element| &element.level) {
        assert!((level.carrier - (0.8 - level.volts) / 0.8).abs() < 1e-3, "{}", level.name);
    }
}

#[test]
fn more_than_an_interface_device_may_put_out_is_said() {
    let said = |level: &str| example(PUB, &[&format!("modulator.level={level}")]).cautions();
    assert_eq!(said("3 mV"), Vec::<String>::new());
    assert!(said("3.5 mV")[0].contains("above the 3.0 mV rms"), "{:?}", said("3.5 mV"));
}

#[test]
fn without_a_modulator_words_are_measured_as_ever() {
    let plain = example("scenarios/chapel-follower.toml", &[]);
    assert!(plain.modulator.is_none() && plain.verdict == plain.received);
    assert_eq!(modulation(&plain).unwrap(), None);
}

#[test]
fn feed_lists_preferred_resistors_and_says_which_to_take() {
    let output = backporch(&["feed", PUB, "--json"]);
    assert_eq!(output.status.code(), Some(0));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let input = &json["inputs"][0];
    assert_eq!(input["input_ohm"], 1000.0);
    let rows = input["rows"].as_array().unwrap();
    let white = |row: &serde_json::Value| row["modulation"]["white_percent"].as_f64().unwrap();
    assert!(rows.windows(2).all(|pair| white(&pair[0]) <= white(&pair[1])));
    let take = input["take_ohm"].as_f64().unwrap();
    for row in rows {
        let is_enough = white(row) >= 10.0;
        assert_eq!(is_enough, row["feed_ohm"].as_f64().unwrap() >= take, "{row}");
    }
    let output = backporch(&["feed", PUB, "--input", "unknown"]);
    let said = String::from_utf8(output.stdout).unwrap();
    for ohms in ["470 Ω", "1 kΩ", "2.2 kΩ", "4.7 kΩ"] {
        assert!(said.contains(&format!("into a modulator of {ohms},")), "{said}");
    }
}

#[test]
fn render_draws_the_bar_and_reports_the_carrier() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&["render", PUB, "-o", out]);
    assert_eq!(output.status.code(), Some(0));
    let said = String::from_utf8(output.stdout).unwrap();
    for part in ["vision 55.25 MHz, sound 60.75 MHz", "White crushed", "Never feed a modulator"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(folder.path().join("modulation.png").exists());
    let report: serde_json::Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("report.json")).unwrap()).unwrap();
    assert_eq!(report["modulation"]["tip_percent"], 100.0);
    assert_eq!(report["node"], "detector");
    let ladder = backporch(&["ladder", PUB, "--json"]);
    let ladder: serde_json::Value = serde_json::from_slice(&ladder.stdout).unwrap();
    assert_eq!(ladder["modulation"], report["modulation"]);
}

#[test]
fn what_cannot_be_sent_is_refused_with_its_reason() {
    let chapel = "scenarios/chapel-follower.toml";
    let refused: [(&[&str], &str); 7] = [
        (&["render", PUB, "--set", "output.load=75"], "has a load and a modulator"),
        (&["render", PUB, "--set", "modulator.channel=A3"], "is not one of system B/G"),
        (&["render", PUB, "--set", "modulator.channel=77"], "unknown channel `77`"),
        (&["render", PUB, "--set", "modulator.no_carrier=-1 V"], "does not lie above"),
        (&["render", PUB, "--set", "solve.samples_per_clock=5"], "set `solve.samples_per_clock`"),
        (&["check", chapel, "--set", "expect.buzz=[\"any\", \"-40 dB\"]"], "no modulator"),
        (&["feed", chapel], "there is no feed resistor to choose"),
    ];
    for (arguments, reason) in refused {
        let folder = tempfile::tempdir().unwrap();
        let mut all = arguments.to_vec();
        if arguments[0] == "render" {
            all.extend(["-o", folder.path().to_str().unwrap()]);
        }
        let output = backporch(&all);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(reason), "{arguments:?}: {said}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}

//! What can be heard: pitches and lengths against class data sheets, the loudspeaker's volts against
//! Ohm's law, and the files against what they promise.

use crate::boards::example;
use crate::crossings::crossings;
use crate::program::backporch;
use backporch::analysis::modulation::modulation;
use backporch::base::math;
use backporch::scenario::Scenario;
use backporch::simulate::Bench;
use backporch::simulate::sound::samples;
use std::fs;

const CHAPEL: &str = "scenarios/chapel-follower.toml";
const HZ: f64 = 48_000.0;

/// The sound of so many fields, V.
fn heard(scenario: &Scenario, fields: u32) -> Vec<f64> {
    let bench = Bench::new(scenario, &[]).unwrap().with_sound().unwrap();
    let mut run = bench.run().unwrap();
    let mut sound = Vec::new();
    for _ in 0..fields {
        run.advance_field(&mut |_| {}).unwrap();
        sound.extend(run.heard());
    }
    sound.extend(run.last_heard());
    assert_eq!(sound.len() as u64, samples(scenario, fields));
    sound.into_iter().map(f64::from).collect()
}

/// Moments at which the sound rises through the middle of its swing, s.
fn rises(sound: &[f64]) -> Vec<f64> {
    let (low, high) =
        sound.iter().fold((f64::MAX, f64::MIN), |(low, high), &v| (low.min(v), high.max(v)));
    let (_, rising) = crossings(sound, 0.5 * (low + high));
    rising.into_iter().map(|sample| sample / HZ).collect()
}

/// Slope of the straight line of least squares through the moments, turned into a pitch.
fn pitch_hz(rises: &[f64]) -> f64 {
    let count = f64::from(u32::try_from(rises.len()).unwrap());
    let middle = (count - 1.0) / 2.0;
    let mean = rises.iter().sum::<f64>() / count;
    let (mut over, mut under) = (0.0, 0.0);
    for (index, at) in rises.iter().enumerate() {
        let turn = f64::from(u32::try_from(index).unwrap()) - middle;
        over += turn * turn;
        under += turn * (at - mean);
    }
    over / under
}

/// A game that makes one sound between its first field and its second.
const HIT: [&str; 2] = ["game.ball=[0.105, 0.4]", "game.ball_velocity=[-1, 0]"];
const REBOUND: [&str; 2] = ["game.ball=[0.5, 0.0]", "game.ball_velocity=[0, -1]"];
const SCORE: [&str; 2] = ["game.ball=[0.0, 0.9]", "game.ball_velocity=[-4, 0]"];

/// Class data sheets, to their printed digits: about 976, 488 and 1950 Hz at 2 MHz, for 32 ms; as
/// parts of the clock 976.6, 488.3, 1953.1, and at 2.01216 MHz 982.5, 491.2, 1965.0.
#[test]
fn the_tones_are_those_of_the_class_to_the_printed_digits() {
    for (chip, expected) in
        [("two-player-50", [976.6, 488.3, 1953.1]), ("two-player-60", [982.5, 491.2, 1965.0])]
    {
        for (game, expected) in [HIT, REBOUND, SCORE].iter().zip(expected) {
            let chip = format!("chip.profile={chip}");
            let mut set = vec![chip.as_str(), "game.left=0.4", "game.score=[0, 0]"];
            set.extend(game);
            let sound = heard(&example(CHAPEL, &set), 5);
            let rises = rises(&sound);
            let found = pitch_hz(&rises);
            assert!((found - expected).abs() < 0.06, "{chip} {game:?}: {found} for {expected}");
            let lasts_ms = 1e3 * (rises[rises.len() - 1] - rises[0]);
            assert!(lasts_ms < 32.1 && lasts_ms > 32.0 - 2e3 / expected, "{lasts_ms}");
            // It begins with the second field.
            let second_s = 1.0 / example(CHAPEL, &set).raster.timing.field_hz();
            assert!((rises[0] - second_s).abs() < 1.0 / HZ, "{} {second_s}", rises[0]);
        }
    }
}

/// 32 ms is 64 000 clocks: 31 periods of a hit and a quarter, so that it ends high.
#[test]
fn a_burst_is_exact_in_clocks_and_goes_on_over_fields() {
    let mut set = vec!["game.left=0.4", "game.score=[0, 0]"];
    set.extend(HIT);
    let scenario = example(CHAPEL, &set);
    let mut raster = backporch::raster::generate::Raster::new(&scenario.raster).unwrap();
    let mut edges = Vec::new();
    for field in 0..5_u64 {
        raster.advance_field();
        edges.extend(raster.sound().edges().iter().map(|edge| field * 39_936 + edge.at.0));
    }
    let expected: Vec<u64> =
        (0..63).map(|turn| 39_936 + 1024 * turn).chain([39_936 + 64_000]).collect();
    assert_eq!(edges, expected);
}

/// With the transistor saturated the supply stands across both resistances: 6.5 V less about 0.1 V
/// over 220 and 32 Ω leave 0.81 V across the loudspeaker. From 0.02 to 0.25 V of saturation at 25 to 60 mA,
/// as data sheets of small transistors have it; from memory.
#[test]
fn the_loudspeaker_has_its_share_of_the_supply() {
    let mut set = vec!["game.left=0.4"];
    set.extend(HIT);
    let plateau = |sound: &[f64]| {
        let mut sorted = sound.to_vec();
        sorted.sort_by(f64::total_cmp);
        // A third of the five fields sounds, half of that is on: its middle.
        sorted[sorted.len() - sorted.len() / 12]
    };
    for (more, series, speaker) in
        [(&[][..], 220.0, 32.0), (&["sound.series=100", "sound.speaker=8"][..], 100.0, 8.0)]
    {
        let mut set = set.clone();
        set.extend(more);
        let found = plateau(&heard(&example(CHAPEL, &set), 5));
        let share = speaker / (series + speaker);
        let (least, most) = ((6.5 - 0.25) * share, (6.5 - 0.02) * share);
        assert!(found > least && found < most, "{found} between {least} and {most}");
    }
    let silent = heard(&example(CHAPEL, &["game.ball_velocity=[0, 0]"]), 2);
    assert!(silent.iter().all(|volts| volts.abs() < 1e-6), "at rest the transistor is off");
}

/// The mean square over whole fields is that of the estimate if no part of it lies above the sound;
/// white bars of many lines are nearly all field rate.
#[test]
fn a_crushed_white_buzzes_at_the_field_rate_and_a_good_one_does_not() {
    let crushed = example("scenarios/pub-modulator.toml", &["game.ball_velocity=[0, 0]"]);
    let told = modulation(&crushed).unwrap().unwrap();
    assert!(told.buzz.is_heard());
    let sound = heard(&crushed, 12);
    // The last fields: the coupling has settled.
    let field = HZ / crushed.raster.timing.field_hz();
    let length = sound.len();
    let ten = &sound[length - 9585..];
    let square = ten.iter().map(|volts| volts * volts).sum::<f64>() / 9585.0;
    let level_db = 10.0 * math::log10(square);
    assert!(level_db <= told.buzz.level_db + 1.0, "{level_db} of {}", told.buzz.level_db);
    assert!(level_db > told.buzz.level_db - 6.0, "{level_db} of {}", told.buzz.level_db);
    // It repeats with the field: ten are 9584.64 samples.
    let apart = |lag: usize| {
        let pairs = ten.iter().zip(&sound[length - 9585 - lag..]);
        (pairs.map(|(one, other)| (one - other) * (one - other)).sum::<f64>() / 9585.0 / square)
            .sqrt()
    };
    assert!(apart(958) < 0.5 * apart(479), "{} {} {field}", apart(958), apart(479));
    let quieter = example("scenarios/pub-quieter.toml", &["game.ball_velocity=[0, 0]"]);
    assert!(!modulation(&quieter).unwrap().unwrap().buzz.is_heard());
    assert!(heard(&quieter, 3).iter().all(|volts| volts.abs() < 1e-6));
}

#[test]
fn a_run_leaves_an_animation_and_a_sound_in_step() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&[
        "render",
        CHAPEL,
        "-o",
        out,
        "--fields",
        "7",
        "--animate",
        "--sound",
        "--no-waveform",
        "--set",
        "game.players=follow",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let path = |name: &str| folder.path().join(name);
    assert!(!path("frame-0002.png").exists() && !path("waveform.wav").exists());
    let file = std::io::BufReader::new(fs::File::open(path("animation.png")).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    assert_eq!(reader.info().animation_control().unwrap().num_frames, 7);
    let first = image::open(path("frame.png")).unwrap().into_luma8();
    let mut frames = Vec::new();
    for _ in 0..7 {
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut pixels).unwrap();
        let control = reader.info().frame_control().unwrap();
        assert_eq!((control.delay_num, control.delay_den), (312, 15_625), "39 936 clocks of 2 MHz");
        frames.push(pixels);
    }
    assert_eq!(&frames[0], first.as_raw());
    assert!(frames.windows(2).all(|pair| pair[0] != pair[1]), "the ball moves in every field");
    // 7 x 958.464 = 6709.248.
    let wav = hound::WavReader::open(path("sound.wav")).unwrap();
    assert_eq!((wav.spec().sample_rate, wav.spec().channels, wav.duration()), (48_000, 1, 6709));
    let report: serde_json::Value =
        serde_json::from_slice(&fs::read(path("report.json")).unwrap()).unwrap();
    assert_eq!(report["animation"]["frames"], 7);
    assert_eq!(report["animation"]["exact"], true);
    assert_eq!(report["sound"]["samples"], 6709);
    assert_eq!(report["sound"]["hit_hz"], 976.563);
    assert_eq!(report["sound"]["burst_ms"], 32.0);
}

#[test]
fn a_waveform_past_4_gib_is_refused_before_anything_is_solved() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("new");
    let output = backporch(&["render", CHAPEL, "-o", out.to_str().unwrap(), "--fields", "100000"]);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).replace('\n', " ");
    // 4 294 967 235 bytes over 4 x 319 488 samples a field: 3360.8.
    assert!(said.contains("3360 fit, 67.1 s"), "{said}");
    assert!(said.contains("--no-waveform"), "{said}");
    assert!(!out.exists());
}

//! The program from outside: exit status, what it writes, what it says, and the README's promises.

use crate::running::Running;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::process::Output;

const CHAPEL: &str = "scenarios/chapel-follower.toml";

/// The program, with arguments.
pub(crate) fn backporch(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backporch")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Names of the files in a folder, sorted.
fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A board in a folder of its own, and what `render` makes of it.
fn render_board(board: &str) -> (tempfile::TempDir, Output) {
    let folder = tempfile::tempdir().unwrap();
    let scenario = folder.path().join("board.toml");
    fs::write(&scenario, board).unwrap();
    let out = folder.path().join("out");
    let output = backporch(&["render", scenario.to_str().unwrap(), "-o", out.to_str().unwrap()]);
    (folder, output)
}

/// A small chip of two pins, and what is hung on it.
fn board(parts: &str) -> String {
    format!(
        "title = \"a board on the bench\"\n\
         [chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\n\
         field_sync_lines = 4\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = \"5 V\"\nhigh_ohms = \"1 k\"\n\
         low_volts = \"0 V\"\nlow_ohms = \"500\"\n\
         [chip.pattern.bar]\nactive = [{{ lines = [50, 60], clocks = [40, 60] }}]\n\
         {parts}\n[output]\nnode = \"plug\"\nload = \"75\"\n"
    )
}

#[test]
fn render_writes_everything_it_names_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&["render", CHAPEL, "-o", out, "--csv", "--vcd", "--tap", "drive"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "nothing is said on the side when piped");
    let names = files(folder.path());
    let wanted = [
        "field.png",
        "frame.png",
        "line.png",
        "report.json",
        "trains.vcd",
        "waveform.csv",
        "waveform.wav",
    ];
    assert_eq!(names, wanted);
    let said = text(&output.stdout);
    assert!(wanted.iter().all(|name| said.contains(name)), "{said}");
    let report: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.path().join("report.json")).unwrap()).unwrap();
    assert_eq!(report["format"], 1);
    let heading = text(&fs::read(folder.path().join("waveform.csv")).unwrap()[..32]);
    assert!(heading.starts_with("time_s,plug,drive\r\n"), "{heading}");
    let wav = hound::WavReader::open(folder.path().join("waveform.wav")).unwrap();
    assert_eq!(wav.spec().channels, 2);
    assert_eq!(wav.duration(), 312 * 128 * 8);
}

#[test]
fn several_fields_become_numbered_frames_with_the_ball_moving() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&[
        "render",
        CHAPEL,
        "-o",
        out,
        "--fields",
        "3",
        "--set",
        "game.ball_velocity=[2, 1]",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let frame = |name: &str| fs::read(folder.path().join(name)).unwrap();
    let frames = ["frame.png", "frame-0002.png", "frame-0003.png"].map(frame);
    assert!(frames[0] != frames[1] && frames[1] != frames[2]);
    let wav = hound::WavReader::open(folder.path().join("waveform.wav")).unwrap();
    assert_eq!(wav.duration(), 3 * 312 * 128 * 8);
}

#[test]
fn a_second_run_writes_the_same_bytes() {
    let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    for folder in [&first, &second] {
        backporch(&["render", CHAPEL, "-o", folder.path().to_str().unwrap()]);
    }
    for name in files(first.path()) {
        let bytes = |folder: &tempfile::TempDir| fs::read(folder.path().join(&name)).unwrap();
        assert!(bytes(&first) == bytes(&second), "{name}");
    }
}

#[test]
fn a_changed_resistor_changes_the_ladder_and_an_open_one_loses_the_element() {
    let white = |change: &[&str]| {
        let mut arguments = vec!["ladder", CHAPEL, "--json"];
        arguments.extend(change);
        let output = backporch(&arguments);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let ladder: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(ladder["format"], 1);
        let right = &ladder["loads"][0]["elements"]["right"];
        (right["delta_mv"].as_f64().unwrap(), right["seen"].as_str().unwrap().to_owned())
    };
    let (good, _) = white(&[]);
    let (dimmer, seen) = white(&["--set", "R1=4k7"]);
    assert!(dimmer < 0.8 * good && seen == "clear");
    let (gone, seen) = white(&["--set", "R1=open"]);
    assert!(gone.abs() < 1.0 && seen == "missing", "{gone} {seen}");
}

#[test]
fn bad_input_says_where_ends_with_2_and_writes_nothing() {
    let (folder, output) = render_board(&board(
        "[board.R1]\nresistor = \"-470\"\nfrom = \"bar\"\nto = \"plug\"\n\
         [board.R2]\nresistor = \"1 k\"\nfrom = \"sink\"\nto = \"plug\"",
    ));
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let said = text(&output.stderr);
    assert!(said.contains("board.toml") && said.contains("-470"), "{said}");
    assert_eq!(files(folder.path()), ["board.toml"]);
}

#[test]
fn a_node_that_nothing_holds_is_named_with_its_line() {
    let (folder, output) = render_board(&board(
        "[board.R1]\nresistor = \"470\"\nfrom = \"bar\"\nto = \"plug\"\n\
         [board.R2]\nresistor = \"1 k\"\nfrom = \"sync\"\nto = \"plug\"\n\
         [board.C1]\ncapacitor = \"100 n\"\nfrom = \"plug\"\nto = \"island\"\n\
         [board.C2]\ncapacitor = \"100 n\"\nfrom = \"island\"\nto = \"ground\"",
    ));
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stderr);
    assert!(said.contains("nothing holds node `island`"), "{said}");
    assert!(said.contains("board.toml:31"), "the line where it is first named: {said}");
    assert_eq!(files(folder.path()), ["board.toml"]);
}

#[test]
fn a_loop_of_ideal_sources_is_named_with_its_line() {
    let (_folder, output) = render_board(&board(
        "[board.R1]\nresistor = \"470\"\nfrom = \"bar\"\nto = \"plug\"\n\
         [board.R2]\nresistor = \"1 k\"\nfrom = \"sync\"\nto = \"plug\"\n\
         [board.V1]\nsupply = \"5 V\"\nnode = \"rail\"\n\
         [board.V2]\nsupply = \"6 V\"\nnode = \"rail\"\n\
         [board.R3]\nresistor = \"1 k\"\nfrom = \"rail\"\nto = \"plug\"",
    ));
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stderr);
    assert!(said.contains("`V2` closes a loop of ideal sources at node `rail`"), "{said}");
    assert!(said.contains("board.toml:"), "{said}");
}

#[test]
fn a_tap_or_a_line_that_is_not_there_is_refused() {
    for (wrong, named) in [(["--tap", "drvie"], "drvie"), (["--line", "312"], "0 to 311")] {
        let folder = tempfile::tempdir().unwrap();
        let mut arguments = vec!["render", CHAPEL, "-o", folder.path().to_str().unwrap()];
        arguments.extend(wrong);
        let output = backporch(&arguments);
        assert_eq!(output.status.code(), Some(2));
        assert!(text(&output.stderr).contains(named));
        assert!(files(folder.path()).is_empty());
    }
}

#[test]
fn the_documents_name_files_that_exist() {
    let documents = ["README.md", "scenarios/COMMANDS.md", "DEVELOPERS.md"];
    let text = documents.map(|name| fs::read_to_string(name).unwrap()).join("\n");
    let named = text
        .split(|c: char| c.is_whitespace() || "()`\"".contains(c))
        .filter(|word| word.starts_with("scenarios/") || word.starts_with("tests/"));
    let mut count = 0;
    for path in named {
        // A pattern stands for files of a folder that is there.
        let path = path.trim_end_matches(['.', ',', ':', ';']);
        let folder = path.split_once('*').and_then(|(before, _)| before.rsplit_once('/'));
        let path = folder.map_or(path, |(folder, _)| folder);
        assert!(Path::new(path).exists(), "{path}");
        count += 1;
    }
    assert!(count > 20, "{count}");
}

#[test]
fn hunt_ranks_suspects_and_says_where_to_measure() {
    let gone = ["hunt", CHAPEL, "--seen", "left=missing", "right=missing", "field=clear"];
    let output = backporch(&[&gone[..], &["--bounces", "yes"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    let heading = said.lines().position(|line| line.contains("suspect")).unwrap();
    let first = said.lines().nth(heading + 1).unwrap();
    assert!(first.contains(" left and right joined "), "{said}");
    assert!(said.contains("\nMeasure next, with a scope: mix with left lit. Expect\n"), "{said}");
    let output = backporch(&[&gone[..], &["--json"]].concat());
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["suspects"][0]["fault"], "left and right joined");
    assert!(json["next"]["expected_mv"][0][0].is_number(), "{json}");
}

#[test]
fn hunt_says_what_the_nearest_fell_out_by_and_what_a_meter_can_do() {
    let output = backporch(&["hunt", CHAPEL, "--seen", "left=clear", "--measured", "mix@left=9.5"]);
    let said = text(&output.stdout);
    assert!(said.contains(", 0 fit.") && said.contains("Fell out, the nearest first:"), "{said}");
    assert!(said.contains(": mix with left lit, 9.50 V, is "), "{said}");
    assert_eq!(said.matches(" deviations off").count(), 3, "{said}");
    let output = backporch(&["hunt", CHAPEL, "--seen", "left=brighter", "right=clear"]);
    let said = text(&output.stdout);
    let first = said.lines().skip_while(|line| !line.contains("suspect")).nth(1).unwrap();
    assert!(first.contains("P1 at one end"), "{said}");
    let gone = ["hunt", CHAPEL, "--seen", "left=missing", "right=missing", "field=clear", "--json"];
    let json: serde_json::Value = serde_json::from_slice(&backporch(&gone).stdout).unwrap();
    assert_eq!(json["next"]["instrument"], "scope");
    // A paddle lasts some thousandths of a field.
    assert!(json["next"]["lasts"].as_f64().unwrap() < 0.02, "{json}");
    if let Some(other) = json.get("by_meter") {
        assert_eq!((&other["instrument"], &other["state"]), (&"meter".into(), &"black".into()));
    }
}

#[test]
fn render_and_why_name_what_makes_the_sync_shallow() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let attic = "scenarios/attic-lead.toml";
    let said = text(&backporch(&["render", attic, "-o", out]).stdout);
    assert!(said.contains("by level only") && said.contains("no picture stands"), "{said}");
    let words =
        "SYNC amounts to 23 mV at `adder`: the load (75 Ω) is too heavy for pin SYNC (3 kΩ)";
    assert!(said.contains(words), "{said}");
    let report = fs::read_to_string(folder.path().join("report.json")).unwrap();
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    assert!(report["sync"]["cause"]["words"].as_str().unwrap().starts_with(words), "{report}");
    let why = text(&backporch(&["why", attic, "sync", "-o", out]).stdout);
    assert!(why.contains("SYNC: ○ failing, 22.6 mV deep (black minus tip) at `adder`"), "{why}");
    assert!(why.contains("black mV  tip mV") && why.contains("why-sync.png"), "{why}");
}

#[test]
fn hunt_refuses_what_it_does_not_know_and_says_what_was_meant() {
    for (said, [message, expected, hint]) in [
        (["--seen", "lefft=missing"], ["`lefft` is no element", "field, ball", "`left`?"]),
        (["--seen", "left=mising"], ["`mising` is no word", "clear, faint", "`missing`?"]),
        (["--measured", "mx@left=1.2"], ["`mx` is no node", "expected one of", "`mix`?"]),
        (["--measured", "mix=1.2"], ["`mix` has no `@`", "mix@left=1.2", ""]),
    ] {
        let output = backporch(&[&["hunt", CHAPEL], &said[..]].concat());
        let stderr = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{stderr}");
        for part in [message, expected, hint] {
            assert!(stderr.contains(part), "no {part:?} in {stderr}");
        }
    }
}

#[test]
fn why_explains_one_element_or_all_and_draws_them() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let output = backporch(&["why", "scenarios/lodge-joined.toml", "LEFT", "-o", out]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    assert!(said.contains("LEFT: ○ missing"), "{said}");
    assert!(said.contains("here hangs: pin RIGHT (800 Ω when low)"), "{said}");
    assert_eq!(files(folder.path()), ["why-left.png"]);
    let output = backporch(&["why", CHAPEL, "--json", "--no-pictures"]);
    let all: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let names = all["elements"].as_array().unwrap().iter().map(|one| one["name"].as_str().unwrap());
    assert_eq!(names.collect::<Vec<&str>>(), ["field", "ball", "left", "right", "sync"]);
    let output = backporch(&["why", CHAPEL, "rihgt", "-o", out]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("there is no element `rihgt`"));
}

#[test]
fn compare_says_what_did_it_and_exits_by_what_is_seen() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let twins = ["scenarios/garage-own-pin.toml", "scenarios/garage-swapped.toml"];
    let output = backporch(&["compare", twins[0], twins[1], "-o", out]);
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    assert!(said.contains("left was clear and is faint"), "{said}");
    assert!(said.contains("R3 on pin COMBINED, not LEFT: its sync"), "{said}");
    assert_eq!(files(folder.path()), ["compare.png"]);
    let output = backporch(&["compare", CHAPEL, "--set", "R1=1k6", "--no-pictures", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stdout));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["differences"].as_array().unwrap().len(), 1);
    let output = backporch(&["compare", CHAPEL]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("nothing to compare with"));
}

/// Every question about the clock, as words, as JSON and, for the tank, as a picture.
#[test]
fn the_clock_is_told_in_words_numbers_and_a_picture() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let tank = ["clock", "tank", "--coil", "25.5uH", "--capacitor", "220pF", "--stray", "15pF"];
    let said = backporch(&[&tank[..], &["--core-range", "20 %", "-o", out]].concat());
    assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
    let words = text(&said.stdout);
    for part in [
        "2.0560 MHz",
        "locks, shifted",
        "1.939 to 2.061",
        "brass, copper or aluminium",
        "clock.png",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    assert_eq!(files(folder.path()), ["clock.png"]);
    let json = |arguments: &[&str]| -> serde_json::Value {
        let said = backporch(&[arguments, &["--json"]].concat());
        assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
        serde_json::from_slice(&said.stdout).unwrap()
    };
    let told = json(&[&tank[..], &["--no-pictures"]].concat());
    assert_eq!(told["rates"]["sets"][0]["word"], "locks, shifted");
    assert_eq!(told["tank"]["capacitance_pf"], 235.0);
    let told = json(&["clock", "coil", "--capacitor", "220pF", "--core-range", "30 %"]);
    assert_eq!(told["coils"][0]["coil_uh"], 27.0);
    assert_eq!(told["coils"][0]["suits"], "lock window in the middle");
    let told = json(&["clock", "tone", "--hit", "976.5625"]);
    assert_eq!(told["clock_hz"], 2e6);
    assert_eq!(told["doubt_hz"], 32_000.0);
    let told = json(&["clock", "tone", "--hit", "976.5625", "--burst", "64ms"]);
    assert_eq!(told["doubt_hz"], 16_000.0);
    let told = json(&["clock", "beat", "--period", "12.48", "--turned-in", "grew"]);
    assert_eq!(told["candidates"].as_array().unwrap().len(), 1);
    assert_eq!(json(&["clock", "beat", "--battery"])["candidates"], serde_json::json!([]));
}

/// A tone of 1000 clocks and a burst of 100 000: 2 kHz for 50 ms at 2 MHz, heard to ± 10 Hz.
#[test]
fn a_chip_with_tones_of_its_own_is_heard_by_them() {
    let folder = tempfile::tempdir().unwrap();
    let chip = fs::read_to_string("scenarios/chips/two-player-50.toml").unwrap();
    let own = chip.replace("hit = 2048", "hit = 1000").replace("burst = 64000", "burst = 100000");
    assert_ne!(own, chip);
    let path = folder.path().join("own.toml");
    fs::write(&path, own).unwrap();
    let profile = format!("chip.profile={}", path.display());
    let about = ["clock", "tone", CHAPEL, "--set", profile.as_str()];
    let said = backporch(&[&about[..], &["--hit", "2000", "--json"]].concat());
    assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
    let told: serde_json::Value = serde_json::from_slice(&said.stdout).unwrap();
    assert_eq!((&told["clock_hz"], &told["doubt_hz"]), (&2e6.into(), &10_000.0.into()));
    assert_eq!(told["rates"]["tones_hz"]["hit"], 2000.0);
    assert_eq!(told["rates"]["tones_hz"]["score"], 1953.125);
}

#[test]
fn a_clock_that_cannot_be_told_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let refused: [(&[&str], &str); 7] = [
        (&["tank", "-o", out], "there is nothing to make a clock"),
        (&["tank", "--coil", "27uH", "-o", out], "a coil needs its --capacitor"),
        (&["tank", "--coil", "27pF", "--capacitor", "1nF", "-o", out], "is not an inductance"),
        (&["coil"], "which capacitor is on the board?"),
        (&["coil", "--capacitor", "220pF", "--series", "E13"], "expected E3, E6, E12"),
        (&["tone", "--hit", "977", "--chip", "two-player-40"], "two-player-50"),
        (&["beat", "--period", "3", "--bar", "up", "--turned-in", "grew"], "contradict each other"),
    ];
    for (arguments, reason) in refused {
        let said = backporch(&[&["clock"], arguments].concat());
        assert_eq!(said.status.code(), Some(2), "{arguments:?}");
        assert!(text(&said.stderr).contains(reason), "{}", text(&said.stderr));
    }
    assert_eq!(files(folder.path()), Vec::<String>::new());
}

#[test]
fn a_picture_is_rendered_at_the_clock_of_its_coil() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let tank = ["--set", "chip.clock.coil=25.5uH", "--set", "chip.clock.capacitor=220pF"];
    let turned = ["--set", "chip.clock.core=0.7"];
    let said = backporch(&[&["render", CHAPEL, "-o", out], &tank[..], &turned[..]].concat());
    assert_eq!(said.status.code(), Some(0), "{}", text(&said.stderr));
    let report: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.path().join("report.json")).unwrap()).unwrap();
    // 25.5 µH and 6 % more, 240 pF: 1 / (2π √(L C)).
    assert_eq!(report["clock"]["numerator"], 1_976_021);
    assert_eq!(report["clock"]["denominator"], 1);
}

/// Ctrl-C in the middle of a run leaves nothing half written, and no folder.
#[cfg(unix)]
#[test]
fn an_interrupted_render_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("new");
    let mut child = Running::new(
        Command::new(env!("CARGO_BIN_EXE_backporch"))
            .args(["render", "scenarios/chapel-follower.toml", "--fields", "2000", "-o"])
            .arg(&out)
            .stderr(std::process::Stdio::null()),
    );
    // Until something is on its way.
    while !fs::read_dir(&out).is_ok_and(|mut files| files.next().is_some()) {
        assert!(child.child().try_wait().unwrap().is_none(), "it ended by itself");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    child.interrupt();
    assert_eq!(child.child().wait().unwrap().code(), Some(130));
    assert!(!out.exists());
}

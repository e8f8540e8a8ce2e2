//! What was turned, as a variant beside the scenario.

use crate::cli::failure::Failure;
use crate::cli::files::write_new;
use crate::serve::desk::Desk;
use crate::serve::session::Settings;
use crate::serve::session::arguments;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use std::path::Path;
use std::path::PathBuf;

const ENDING: &str = ".toml";
/// Longest name of a file, with its ending.
const LONGEST: usize = 100;
/// Names that some systems keep for devices.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "com", "lpt"];

/// Saves settings under a new name and says where. Nothing is written unless what is written would
/// load to the same board.
pub(crate) fn save(desk: &Desk, settings: &Settings, name: &str) -> Result<PathBuf, Failure> {
    let path = desk.path().with_file_name(file_name(name).map_err(Failure::plain)?);
    if path.symlink_metadata().is_ok() {
        let path = path.display();
        return Err(Failure::plain(format!("{path} is there already: choose another name")));
    }
    let text = variant(desk.path(), settings);
    check(desk, settings, &path, &text)?;
    write_new(&path, text.as_bytes())?;
    Ok(path)
}

/// The name with its ending; a reason if it is more, or less, than the name of a file.
fn file_name(name: &str) -> Result<String, String> {
    let stem = name.trim().strip_suffix(ENDING).unwrap_or(name.trim());
    let refuse = |why: &str| {
        Err(format!("`{}` {why}: expected a name such as `my-board`", stem.escape_debug()))
    };
    if stem.is_empty() {
        return refuse("is no name");
    }
    if stem.len() + ENDING.len() > LONGEST {
        return refuse("is too long");
    }
    let is_plain = |one: char| one.is_alphanumeric() || matches!(one, '-' | '_' | ' ' | '.');
    if !stem.chars().all(is_plain) || stem.starts_with('.') || stem.ends_with(['.', ' ']) {
        return refuse("is no plain file name");
    }
    let device = stem.split('.').next().unwrap_or_default().to_ascii_lowercase();
    let device = device.trim_end_matches(|one: char| one.is_ascii_digit());
    if DEVICES.contains(&device) {
        return refuse("is kept for a device on some systems");
    }
    Ok(format!("{stem}{ENDING}"))
}

/// The variant's text.
fn variant(base: &Path, settings: &Settings) -> String {
    let base = base.file_name().map(|name| name.to_string_lossy()).unwrap_or_default();
    let mut text = format!("# Saved from the live page.\nbase = {}\n", quoted(&base));
    if !settings.is_empty() {
        text += "\n[change]\n";
    }
    for (path, value) in settings {
        text += &format!("{} = {}\n", quoted(path), toml_value(value));
    }
    text
}

/// A list as it is, anything else as a text: what `--set` makes of it.
fn toml_value(text: &str) -> String {
    if text.starts_with('[') { text.to_owned() } else { quoted(text) }
}

/// A basic string of TOML.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for one in text.chars() {
        match one {
            '"' | '\\' => quoted.extend(['\\', one]),
            control if control.is_control() => {
                quoted += &format!("\\U{:08X}", u32::from(control));
            }
            plain => quoted.push(plain),
        }
    }
    quoted + "\""
}

/// Loads the text as if it were in its place, and compares.
fn check(desk: &Desk, settings: &Settings, path: &Path, text: &str) -> Result<(), Failure> {
    let wanted = desk.load(&arguments(settings))?;
    let own = path.to_string_lossy();
    let mut read = |name: &str| {
        if name == own { Ok(text.to_owned()) } else { std::fs::read_to_string(name) }
    };
    let saved = load(&own, &[], &mut read).map_err(Failure::input)?;
    if is_same(&wanted, &saved) {
        return Ok(());
    }
    Err(Failure::plain(format!(
        "{} has changed since the page was opened: end this run and begin again, then save",
        desk.path().display()
    )))
}

/// Whether two scenarios come to the same, by another name and from other places.
fn is_same(a: &Scenario, b: &Scenario) -> bool {
    // No field is left out by oversight: a new one does not compile.
    let Scenario {
        name: _,
        title,
        raster,
        tank,
        clock_drift,
        circuit,
        output,
        modulator,
        receiver,
        sound,
        solve,
        verdict,
        received,
        specimens,
        // What is asked of the board, what may differ and what may move is not turned on the page.
        expect: _,
        spread: _,
        choose: _,
        part_spans: _,
        limits,
        batteries,
        chip_limits,
        chip_supply,
        node_spans: _,
    } = a;
    *title == b.title
        && *raster == b.raster
        && *tank == b.tank
        && *clock_drift == b.clock_drift
        && *circuit == b.circuit
        && *output == b.output
        && *modulator == b.modulator
        && *receiver == b.receiver
        && *sound == b.sound
        && *solve == b.solve
        && *verdict == b.verdict
        && *received == b.received
        && *specimens == b.specimens
        && *limits == b.limits
        && *batteries == b.batteries
        && *chip_limits == b.chip_limits
        && *chip_supply == b.chip_supply
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::args::ScenarioArgs;
    use std::fs;

    fn settings(all: &[(&str, &str)]) -> Settings {
        all.iter().map(|&(path, text)| (path.to_owned(), text.to_owned())).collect()
    }

    fn on_a_desk() -> (tempfile::TempDir, Desk) {
        let folder = tempfile::tempdir().unwrap();
        let scenario = folder.path().join("board.toml");
        fs::write(&scenario, include_str!("../../scenarios/table-follower.toml")).unwrap();
        let desk = Desk::open(&ScenarioArgs { scenario, set: Vec::new() }).unwrap();
        (folder, desk)
    }

    #[test]
    fn what_is_saved_loads_to_the_same_board() {
        let (_folder, desk) = on_a_desk();
        let set = settings(&[
            ("R1.resistor", "2k2 5%"),
            ("R2", "open"),
            ("game.ball", "[0.1, 0.9]"),
            ("game.left", "20 %"),
        ]);
        let path = save(&desk, &set, "my board").unwrap();
        assert!(path.ends_with("my board.toml"));
        let mut read = |name: &str| fs::read_to_string(name);
        let saved = load(&path.to_string_lossy(), &[], &mut read).unwrap();
        assert!(is_same(&saved, &desk.load(&arguments(&set)).unwrap()));
        assert!(!is_same(&saved, &desk.load(&[]).unwrap()));
    }

    #[test]
    fn nothing_is_ever_written_over() {
        let (folder, desk) = on_a_desk();
        let set = settings(&[("R1.resistor", "2k2")]);
        save(&desk, &set, "one").unwrap();
        let before = fs::read(folder.path().join("one.toml")).unwrap();
        let error = save(&desk, &settings(&[("R1.resistor", "9k1")]), "one.toml").unwrap_err();
        assert!(error.text().contains("is there already"), "{}", error.text());
        assert_eq!(fs::read(folder.path().join("one.toml")).unwrap(), before);
        assert!(save(&desk, &set, "board").is_err());
        assert!(write_new(&folder.path().join("one.toml"), b"other").is_err());
        assert_eq!(fs::read(folder.path().join("one.toml")).unwrap(), before);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "nothing else is left");
    }

    #[test]
    fn a_base_that_was_edited_meanwhile_is_noticed() {
        let (folder, desk) = on_a_desk();
        let base = folder.path().join("board.toml");
        let text = fs::read_to_string(&base).unwrap().replace("\"2k0\"", "\"2k7\"");
        fs::write(&base, text).unwrap();
        let error = save(&desk, &settings(&[("game.left", "0.1")]), "late").unwrap_err();
        assert!(error.text().contains("has changed since"), "{}", error.text());
        assert!(!folder.path().join("late.toml").exists());
    }

    #[test]
    fn only_plain_names_are_taken() {
        assert_eq!(file_name(" mine ").unwrap(), "mine.toml");
        assert_eq!(file_name("mine.toml").unwrap(), "mine.toml");
        assert_eq!(file_name("v1.2").unwrap(), "v1.2.toml");
        for name in [
            "",
            " ",
            ".toml",
            "..",
            "../x",
            "a/b",
            "a\\b",
            "/etc/x",
            "C:x",
            ".hidden",
            "a\0b",
            "a\nb",
            "x.",
            "con",
            "COM1",
            "nul.x",
            "a*b",
            "a\u{202e}b",
        ] {
            assert!(file_name(name).is_err(), "{name:?}");
        }
        assert!(file_name(&"a".repeat(200)).is_err());
    }

    #[test]
    fn texts_are_written_as_toml_reads_them() {
        for text in ["4k7", "\"quoted\" \\ and more", "a\u{1}b", "µ"] {
            let value: toml::Table = toml::from_str(&format!("x = {}", quoted(text))).unwrap();
            assert_eq!(value["x"].as_str(), Some(text));
        }
    }
}

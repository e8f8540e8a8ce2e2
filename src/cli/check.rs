//! `check`: many designs against what is expected of them.

use crate::cli;
use crate::cli::accept;
use crate::cli::args::CheckArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::outcome::Outcome;
use backporch::analysis::check::Case;
use backporch::analysis::check::Checked;
use backporch::analysis::check::check_all;
use backporch::analysis::check::wave::StoredWave;
use backporch::base::diagnostic::Diagnostic;
use backporch::output::check_json::write_check;
use backporch::output::check_table::check_table;
use backporch::output::checked::CheckedFile;
use backporch::output::checked::Totals;
use backporch::output::junit::write_junit;
use backporch::output::wav_read::read_wave;
use backporch::scenario::Scenario;
use backporch::scenario::expect::Expectation;
use backporch::scenario::expect::Expected;
use std::fs::File;
use std::io::BufReader;
use std::io::ErrorKind;
use std::path::Path;

/// A board that can be checked, and the waveform it is compared with.
struct Loaded {
    scenario: Scenario,
    stored: Option<StoredWave>,
}

/// One file and what came of it.
pub(crate) struct Answer {
    pub(crate) file: String,
    pub(crate) checked: Result<Checked, Failure>,
    pub(crate) notes: Vec<String>,
}

/// Answers `check`.
pub(crate) fn run(args: &CheckArgs) -> Result<Outcome, Failure> {
    let mut answers = answers(args);
    let mut waiting = if args.accept { accept::prepare(&mut answers)? } else { Vec::new() };
    let texts: Vec<Option<String>> =
        answers.iter().map(|answer| answer.checked.as_ref().err().map(Failure::text)).collect();
    let all: Vec<CheckedFile<'_>> = answers
        .iter()
        .zip(&texts)
        .map(|(answer, text)| CheckedFile {
            file: &answer.file,
            answer: answer.checked.as_ref().map_err(|_| text.as_deref().unwrap_or_default()),
            notes: &answer.notes,
        })
        .collect();
    if let Some(path) = &args.junit {
        let mut xml = Vec::new();
        write_junit(&all, &mut xml).map_err(|error| world(path, &error))?;
        waiting.push(files::waiting(path, &xml)?);
    }
    let printed = if args.json {
        let mut json = Vec::new();
        write_check(&all, &mut json).map_err(|error| Failure::world("standard output", &error))?;
        String::from_utf8_lossy(&json).into_owned()
    } else {
        check_table(&all)
    };
    for folder in waiting {
        OutputFolder::finish(folder)?;
    }
    answers.iter().filter_map(|answer| answer.checked.as_ref().err()).for_each(Failure::report);
    cli::print(&printed)?;
    Ok(match Totals::of(&all) {
        Totals { unanswered: 1.., .. } => Outcome::NoAnswer,
        Totals { unmet: 1.., .. } => Outcome::No,
        _ => Outcome::Answered,
    })
}

/// Reads all files, then checks at once those that can be.
fn answers(args: &CheckArgs) -> Vec<Answer> {
    let loaded: Vec<Result<Loaded, Failure>> =
        args.scenarios.iter().map(|path| load(path, args)).collect();
    let good: Vec<&Loaded> = loaded.iter().flatten().collect();
    let cases: Vec<Case<'_>> = good
        .iter()
        .map(|loaded| Case { scenario: &loaded.scenario, stored: loaded.stored.as_ref() })
        .collect();
    let checked = check_all(&cases);
    let mut checked: Vec<Result<Checked, Failure>> = checked
        .into_iter()
        .zip(&good)
        .map(|(answer, one)| answer.map_err(|error| Failure::run(&one.scenario, &error)))
        .rev()
        .collect();
    let mut answers = Vec::new();
    for (path, loaded) in args.scenarios.iter().zip(loaded) {
        let answer = match loaded {
            Err(failure) => Some(Err(failure)),
            Ok(_) => checked.pop(),
        };
        let file = path.to_string_lossy().into_owned();
        answers.extend(answer.map(|checked| Answer { file, checked, notes: Vec::new() }));
    }
    answers
}

fn load(path: &Path, args: &CheckArgs) -> Result<Loaded, Failure> {
    let scenario = files::load_scenario(path, &args.set)?;
    if scenario.expect.is_empty() {
        return Err(Failure::input(vec![Diagnostic {
            message: format!("nothing is expected of `{}`", path.display()),
            span: None,
            expected: String::new(),
            hint: Some("say it in the scenario, as `[expect]` and `sync = \"good\"`".to_owned()),
        }]));
    }
    let stored = match waveform(&scenario) {
        Some((expected, file)) => stored(expected, file, args)?,
        None => None,
    };
    Ok(Loaded { scenario, stored })
}

/// The expectation of a waveform, if there is one, and its file.
fn waveform(scenario: &Scenario) -> Option<(&Expected, &str)> {
    scenario.expect.iter().find_map(|expected| match &expected.what {
        Expectation::Waveform { path, .. } => Some((expected, path.as_str())),
        _ => None,
    })
}

/// The stored waveform; `None` only if it is still to be stored.
fn stored(
    expected: &Expected,
    path: &str,
    args: &CheckArgs,
) -> Result<Option<StoredWave>, Failure> {
    let refuse = |message: String, wanted: &str, hint: Option<&str>| {
        Failure::input(vec![Diagnostic {
            message,
            span: Some(expected.place.clone()),
            expected: wanted.to_owned(),
            hint: hint.map(str::to_owned),
        }])
    };
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound && args.accept => return Ok(None),
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let hint = "`--accept` stores the board's waveform there";
            let message = format!("there is no file `{path}`");
            return Err(refuse(message, "expected a stored waveform", Some(hint)));
        }
        Err(error) => {
            let message = format!("`{path}` cannot be read: {error}");
            return Err(refuse(message, "expected a stored waveform", None));
        }
    };
    // What is no waveform is never written over: it may be something else of the user's.
    let wave = read_wave(BufReader::new(file)).map_err(|error| {
        let message = format!("`{path}` is no stored waveform: {error}");
        refuse(message, "expected the WAV file of one waveform", None)
    })?;
    Ok(Some(wave))
}

fn world(path: &Path, error: &std::io::Error) -> Failure {
    Failure::world(&path.display().to_string(), error)
}

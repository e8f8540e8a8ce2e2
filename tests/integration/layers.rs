//! Who may import whom, and who may touch the world, read from the text of the sources.

use std::fs;
use std::path::Path;

/// Each module of `src`, and what it may import besides itself.
const MAY_IMPORT: [(&str, &[&str]); 13] = [
    ("base", &[]),
    ("signal", &["base"]),
    ("raster", &["base", "signal"]),
    ("network", &["base", "signal"]),
    ("path", &["base", "signal"]),
    ("receiver", &["base", "signal"]),
    ("sound", &["base", "signal"]),
    // How a file is read: knows no chip, no part and no stage.
    ("document", &["base"]),
    ("profile", &["base", "signal", "raster", "network", "path", "receiver", "document"]),
    (
        "scenario",
        &["base", "signal", "raster", "network", "path", "receiver", "document", "profile"],
    ),
    (
        "simulate",
        &[
            "base", "signal", "raster", "network", "path", "receiver", "sound", "profile",
            "scenario",
        ],
    ),
    (
        "analysis",
        &[
            "base", "signal", "raster", "network", "path", "receiver", "profile", "scenario",
            "simulate",
        ],
    ),
    (
        "output",
        &[
            "base", "signal", "raster", "network", "path", "receiver", "profile", "scenario",
            "simulate", "analysis",
        ],
    ),
];

/// Modules of the program, not of the library: they may use everything, and the compiler keeps the
/// library from using them.
const PROGRAM: [&str; 2] = ["cli", "serve"];

/// What only the program may touch.
const WORLD: [&str; 5] = ["fs", "net", "env", "time", "thread"];

/// The only file that may start threads.
const PARALLEL: &str = "base/parallel.rs";

/// One breach, ready to be printed.
fn breach(file: &str, line: usize, what: &str) -> String {
    format!("src/{file}:{line}: {what}")
}

/// Every breach in one file; `file` is its path below `src`, with forward slashes.
fn breaches(file: &str, text: &str) -> Vec<String> {
    let module = file.split(['/', '.']).next().unwrap_or_default();
    let code = code_of(text);
    let mut found = Vec::new();
    let in_program = PROGRAM.contains(&module) || file == "main.rs";
    for (index, line) in code.lines().enumerate() {
        let mut report = |what: String| found.push(breach(file, index + 1, &what));
        for name in heads(line, "super::super") {
            report(format!("`super::super{name}`: write the path from `crate`"));
        }
        if in_program {
            continue;
        }
        for name in imported(file, line) {
            if name.is_empty() {
                report("more than one import in a line".to_owned());
            } else if !may_import(module, name) {
                report(format!("`{module}` may not import `{name}`"));
            }
        }
        for name in heads(line, "std::").filter(|name| WORLD.contains(name)) {
            report(format!("`std::{name}` outside the program"));
        }
        if line.contains("std::{") {
            report("more than one import in a line".to_owned());
        }
        if heads(line, "rayon").next().is_some() && file != PARALLEL {
            report(format!("threads are started outside {PARALLEL}"));
        }
    }
    if !in_program && file.contains('/') && !MAY_IMPORT.iter().any(|(known, _)| *known == module) {
        found.push(breach(file, 1, &format!("`{module}` has no place in the import table")));
    }
    found
}

fn may_import(module: &str, name: &str) -> bool {
    let allowed = MAY_IMPORT.iter().find(|(known, _)| *known == module);
    // What is no module of the table is an item of the crate's root or a name of the file's own.
    let is_module = MAY_IMPORT.iter().any(|(known, _)| *known == name) || PROGRAM.contains(&name);
    !is_module || module == name || allowed.is_some_and(|(_, names)| names.contains(&name))
}

/// First words of the crate paths in a line; empty for a brace, where there is more than one.
fn imported<'a>(file: &str, line: &'a str) -> Vec<&'a str> {
    let mut names: Vec<&str> = heads(line, "crate::").collect();
    names.extend(heads(line, "backporch::"));
    // In a module's own `mod.rs`, `super` is the crate; only its tests use it for the module.
    let is_module_root = file.split('/').count() == 2 && file.ends_with("/mod.rs");
    if is_module_root || file == "lib.rs" {
        names.extend(heads(line, "super::").filter(|name| !name.is_empty()));
    }
    names
}

/// The words right behind `prefix` wherever it stands in `line` as a whole word.
fn heads<'a>(line: &'a str, prefix: &str) -> impl Iterator<Item = &'a str> {
    let is_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    line.match_indices(prefix)
        .filter(move |(at, _)| !line[..*at].chars().next_back().is_some_and(is_word))
        .map(|(at, prefix)| &line[at + prefix.len()..])
        .map(move |rest| &rest[..rest.find(|letter| !is_word(letter)).unwrap_or(rest.len())])
}

/// The text with comments and literals blanked out, line for line.
fn code_of(text: &str) -> String {
    let mut code = String::new();
    let mut rest = text;
    while let Some(letter) = rest.chars().next() {
        let length = match skipped(rest) {
            0 => {
                code.push(letter);
                rest = &rest[letter.len_utf8()..];
                continue;
            }
            length => length,
        };
        code.extend(rest[..length].chars().filter(|letter| *letter == '\n'));
        code.push(' ');
        rest = &rest[length..];
    }
    code
}

/// Bytes of the comment or literal that `text` begins with; 0 if it begins with code.
fn skipped(text: &str) -> usize {
    let up_to = |end: &str, from: usize| {
        text[from..].find(end).map_or(text.len(), |at| from + at + end.len())
    };
    if text.starts_with("//") {
        return text.find('\n').unwrap_or(text.len());
    }
    if text.starts_with("/*") {
        return up_to("*/", 2);
    }
    for (start, end) in [("r##\"", "\"##"), ("r#\"", "\"#"), ("r\"", "\"")] {
        if text.starts_with(start) {
            return up_to(end, start.len());
        }
    }
    match text.as_bytes() {
        [b'"', ..] => quoted(text, '"'),
        // A letter in quotes, not a lifetime.
        [b'\'', b'\\', ..] | [b'\'', _, b'\'', ..] => quoted(text, '\''),
        _ => 0,
    }
}

fn quoted(text: &str, quote: char) -> usize {
    let mut letters = text.char_indices().skip(1);
    while let Some((at, letter)) = letters.next() {
        if letter == '\\' {
            letters.next();
        } else if letter == quote {
            return at + 1;
        }
    }
    text.len()
}

/// Every source file below `folder`: its path with forward slashes, and its text.
fn sources(folder: &Path, below: &str, found: &mut Vec<(String, String)>) {
    let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap()).collect();
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let path = entry.path();
        let name = format!("{below}{}", entry.file_name().to_string_lossy());
        if path.is_dir() {
            sources(&path, &format!("{name}/"), found);
        } else if name.ends_with(".rs") {
            found.push((name, fs::read_to_string(&path).unwrap()));
        }
    }
}

#[test]
fn every_module_imports_only_what_stands_to_its_left() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "", &mut files);
    assert!(files.len() > 50, "only {} source files found", files.len());
    let found: Vec<String> = files.iter().flat_map(|(file, text)| breaches(file, text)).collect();
    assert!(found.is_empty(), "{} breaches:\n{}", found.len(), found.join("\n"));
}

/// The one breach of a line in a file.
fn only_breach(file: &str, text: &str) -> String {
    let found = breaches(file, text);
    assert_eq!(found.len(), 1, "{file}: {text}: {found:?}");
    found[0].clone()
}

#[test]
fn imports_against_the_order_are_found_with_file_and_line() {
    assert_eq!(
        only_breach("raster/line.rs", "\nuse crate::network::circuit::Circuit;\n"),
        "src/raster/line.rs:2: `raster` may not import `network`"
    );
    for (file, text) in [
        ("base/units.rs", "use crate::signal::trace::Trace;"),
        ("signal/trace.rs", "use crate::raster::plan::RasterPlan;"),
        ("network/system.rs", "let x = crate::receiver::spec::Clamp::None;"),
        ("receiver/mod.rs", "use super::network::matrix::Matrix;"),
        ("document/tree.rs", "use crate::signal::trace::Trace;"),
        ("profile/court.rs", "use crate::scenario::Scenario;"),
        ("scenario/mod.rs", "use crate::simulate::Run;"),
        ("simulate/mod.rs", "pub(crate) use crate::analysis::ladder;"),
        ("analysis/ladder.rs", "use crate::output::png::write_frame;"),
        ("output/png.rs", "use crate::cli::args::Args;"),
        ("output/png.rs", "use backporch::serve::page;"),
        ("base/units.rs", "use crate::{base::math, signal::trace};"),
        ("novelty/mod.rs", "pub fn nothing() {}"),
    ] {
        only_breach(file, text);
    }
}

#[test]
fn the_world_threads_and_grandparents_are_found() {
    for (file, text) in [
        ("base/units.rs", "use std::fs::File;"),
        ("signal/trace.rs", "let now = std::time::Instant::now();"),
        ("scenario/files.rs", "use std::env;"),
        ("output/wav.rs", "use std::net::TcpStream;"),
        ("simulate/mod.rs", "std::thread::spawn(work);"),
        ("output/wav.rs", "use std::{fs, io};"),
        ("analysis/ladder.rs", "use rayon::prelude::*;"),
        ("network/system.rs", "use super::super::base::math;"),
        ("cli/files.rs", "use super::super::cli::args;"),
    ] {
        only_breach(file, text);
    }
}

#[test]
fn what_is_allowed_is_let_through() {
    for (file, text) in [
        ("network/system.rs", "use crate::network::matrix::Matrix;\nuse crate::base::math;"),
        ("network/system.rs", "//! Like `crate::receiver`, never std::fs.\n/* std::env */"),
        ("network/system.rs", "let text = \"crate::receiver \\\" std::fs\"; let c = '\"';"),
        ("network/system.rs", "let text = r#\"use std::fs;\"#; fn f<'a>(x: &'a str) {}"),
        ("receiver/mod.rs", "mod tests {\n    use super::*;\n}"),
        ("base/parallel.rs", "use rayon::prelude::*;"),
        ("cli/files.rs", "use std::fs::File;\nuse backporch::output::png::write_frame;"),
        ("main.rs", "use std::env;"),
        ("output/table.rs", "use crate::analysis::verdict::Seen;\nuse std::io::Write;"),
    ] {
        assert_eq!(breaches(file, text), Vec::<String>::new(), "{file}: {text}");
    }
}

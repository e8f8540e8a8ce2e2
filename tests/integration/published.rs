//! Tables of expected numbers: comma-separated, behind a first line that names their source.

use csv::ReaderBuilder;
use std::fs;
use std::path::Path;

/// The rows of a table without its heading; panics if no source is named.
pub(crate) fn rows(name: &str) -> Vec<Vec<String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published").join(name);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.starts_with("# "), "the first line of {name} names no source");
    let mut reader = ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

/// Rows of numbers behind a name.
pub(crate) fn numbers(name: &str) -> Vec<(String, Vec<f64>)> {
    rows(name)
        .into_iter()
        .map(|row| (row[0].clone(), row[1..].iter().map(|word| word.parse().unwrap()).collect()))
        .collect()
}

/// Shows a line to whoever runs the tests with `--nocapture`.
#[expect(clippy::print_stdout, reason = "captured by the test harness unless asked for")]
pub(crate) fn show(line: &str) {
    println!("{line}");
}

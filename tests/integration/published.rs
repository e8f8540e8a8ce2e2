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

/// A row of the printed table of single faults, mV: tip, black, depth, then elements above black.
pub(crate) fn one_fault(fault: &str) -> Vec<f64> {
    let mut rows = numbers("one_fault.csv").into_iter();
    rows.find(|(name, _)| name == fault).unwrap_or_else(|| panic!("no row `{fault}`")).1
}

/// Shows a line to whoever runs the tests with `--nocapture`.
#[expect(clippy::print_stdout, reason = "captured by the test harness unless asked for")]
pub(crate) fn show(line: &str) {
    println!("{line}");
}

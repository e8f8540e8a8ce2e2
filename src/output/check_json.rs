//! A check as JSON for other programs.

use crate::analysis::check::Finding;
use crate::output::checked::CheckedFile;
use crate::output::checked::Totals;
use crate::output::checked::expected;
use crate::output::checked::found;
use crate::output::json::FORMAT;
use crate::output::json::write;
use serde::Serialize;
use std::io::Write;

/// Writes the check, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_check(files: &[CheckedFile<'_>], out: &mut impl Write) -> std::io::Result<()> {
    write(&CheckReport::new(files), out)
}

/// The check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// Files that are as expected.
    pub as_expected: usize,
    /// Files that are not.
    pub not_as_expected: usize,
    /// Files without an answer.
    pub without_answer: usize,
    /// The files in the order in which they were named.
    pub files: Vec<FileReport<'a>>,
}

/// A file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FileReport<'a> {
    /// As it was named.
    pub file: &'a str,
    /// Why there is no answer; absent if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<&'a str>,
    /// Whether everything is as expected; null without an answer.
    pub as_expected: Option<bool>,
    /// One for each expectation.
    pub findings: Vec<FindingReport<'a>>,
    /// What else was done.
    pub notes: &'a [String],
}

/// A finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingReport<'a> {
    /// Path below `[expect]`.
    pub what: &'a str,
    /// Whether it is as expected.
    pub met: bool,
    /// In words.
    pub expected: String,
    /// In words.
    pub found: String,
    /// The file in which the expectation stands: the scenario, its base, or `--set`.
    pub written_in: &'a str,
    /// Its line there.
    pub line: usize,
    /// Which part did it, in words, if that could be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cause: Option<&'a str>,
}

impl<'a> CheckReport<'a> {
    /// Fills the report.
    #[must_use]
    pub fn new(files: &[CheckedFile<'a>]) -> Self {
        let Totals { met, unmet, unanswered } = Totals::of(files);
        Self {
            format: FORMAT,
            as_expected: met,
            not_as_expected: unmet,
            without_answer: unanswered,
            files: files.iter().map(file_report).collect(),
        }
    }
}

fn file_report<'a>(file: &CheckedFile<'a>) -> FileReport<'a> {
    let findings = file.answer.map(|checked| checked.findings.iter().map(finding_report).collect());
    FileReport {
        file: file.file,
        error: file.answer.err(),
        as_expected: file.answer.ok().map(|checked| checked.unmet() == 0),
        findings: findings.unwrap_or_default(),
        notes: file.notes,
    }
}

fn finding_report(finding: &Finding) -> FindingReport<'_> {
    FindingReport {
        what: &finding.expected.name,
        met: finding.met,
        expected: expected(&finding.expected.what),
        found: found(finding),
        written_in: &finding.expected.place.source.name,
        line: finding.expected.place.line(),
        cause: finding.cause.as_ref().map(|cause| cause.words.as_str()),
    }
}

//! A check as a table in plain words.

use crate::output::checked::CheckedFile;
use crate::output::checked::Totals;
use crate::output::checked::expected;
use crate::output::checked::found;
use crate::output::checked::place;
use crate::output::table::Column;
use crate::output::table::Table;

/// Every file with what it does not meet, then how many files are as they should be. One file alone is
/// shown with every expectation.
#[must_use]
pub fn check_table(files: &[CheckedFile<'_>]) -> String {
    let is_whole = files.len() == 1;
    let mut text: String = files.iter().map(|file| one_file(file, is_whole)).collect();
    let Totals { met, unmet, unanswered } = Totals::of(files);
    let all = files.len();
    let noun = if all == 1 { "file" } else { "files" };
    text += &format!("{all} {noun}: {met} as expected, {unmet} not, {unanswered} without answer\n");
    text
}

fn one_file(file: &CheckedFile<'_>, is_whole: bool) -> String {
    let Ok(checked) = file.answer else { return format!("{}: no answer\n\n", file.file) };
    let (all, unmet) = (checked.findings.len(), checked.unmet());
    let mut text = if unmet == 0 {
        format!("{}: as expected, {all} of {all}\n", file.file)
    } else {
        format!("{}: NOT as expected, {unmet} of {all} not met\n", file.file)
    };
    let mut table = Table::new(vec![
        Column::left(""),
        Column::left("what"),
        Column::left("expected"),
        Column::left("found"),
        Column::left("where"),
    ]);
    let told = checked.findings.iter().filter(|finding| is_whole || !finding.met);
    let mut findings = told.peekable();
    while let Some(finding) = findings.next() {
        table.push(vec![
            if finding.met { "met" } else { "NOT" }.to_owned(),
            finding.expected.name.clone(),
            expected(&finding.expected.what),
            found(finding),
            if finding.met { String::new() } else { place(finding) },
        ]);
        // A cause that several findings in a row share is said once, after the last of them.
        let words = finding.cause.as_ref().map(|cause| cause.words.as_str());
        let next = findings.peek().and_then(|next| next.cause.as_ref());
        let next = next.map(|cause| cause.words.as_str());
        table.prose(words.filter(|words| next != Some(*words)));
    }
    if is_whole || unmet > 0 {
        text += &table.text();
    }
    for note in file.notes {
        text += &format!("{note}\n");
    }
    if is_whole || unmet > 0 {
        text.push('\n');
    }
    text
}

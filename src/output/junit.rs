//! A check as `JUnit` XML, which most CI services read.
//!
//! A file is a `testsuite`, an expectation a `testcase`, one that is not met has a `failure`; a file
//! without an answer has one `testcase` with an `error`. Elements and attributes are those that the
//! common forms of the schema share: `testsuites`, `testsuite` (`name`, `tests`, `failures`,
//! `errors`), `testcase` (`classname`, `name`), `failure` and `error` (`message`, `type`). Times are
//! left out, so that the same boards give the same bytes.

use crate::analysis::check::Finding;
use crate::output::checked::CheckedFile;
use crate::output::checked::expected;
use crate::output::checked::found;
use crate::output::checked::place;
use std::io::Write;
use xmlwriter::Options;
use xmlwriter::XmlWriter;

/// Name of the one test case of a file without an answer.
const ANSWER: &str = "answer";

/// Writes the check.
///
/// # Errors
///
/// If `out` fails.
pub fn write_junit(files: &[CheckedFile<'_>], out: &mut impl Write) -> std::io::Result<()> {
    let mut xml = XmlWriter::new(Options::default());
    xml.write_declaration();
    xml.start_element("testsuites");
    attribute(&mut xml, "name", "backporch check");
    let counts: Vec<[usize; 3]> = files.iter().map(counts).collect();
    let total = |at: usize| counts.iter().map(|counts| counts[at]).sum();
    write_counts(&mut xml, [total(0), total(1), total(2)]);
    for (file, counts) in files.iter().zip(counts) {
        xml.start_element("testsuite");
        attribute(&mut xml, "name", file.file);
        write_counts(&mut xml, counts);
        match file.answer {
            Ok(checked) => {
                checked.findings.iter().for_each(|finding| case(&mut xml, file.file, finding));
            }
            Err(error) => unanswered(&mut xml, file.file, error),
        }
        xml.end_element();
    }
    xml.end_element();
    out.write_all(xml.end_document().as_bytes())
}

/// Tests, failures, errors.
fn counts(file: &CheckedFile<'_>) -> [usize; 3] {
    match file.answer {
        Ok(checked) => [checked.findings.len(), checked.unmet(), 0],
        Err(_) => [1, 0, 1],
    }
}

fn write_counts(xml: &mut XmlWriter, counts: [usize; 3]) {
    for (name, count) in ["tests", "failures", "errors"].into_iter().zip(counts) {
        attribute(xml, name, &count.to_string());
    }
}

fn case(xml: &mut XmlWriter, file: &str, finding: &Finding) {
    xml.start_element("testcase");
    attribute(xml, "classname", file);
    attribute(xml, "name", &finding.expected.name);
    if !finding.met {
        let (expected, found) = (expected(&finding.expected.what), found(finding));
        xml.start_element("failure");
        attribute(xml, "message", &format!("expected {expected}, found {found}"));
        attribute(xml, "type", "expectation");
        let cause = finding.cause.as_ref().map(|cause| format!("\n{}", cause.words));
        text(xml, &format!("{}{}", place(finding), cause.unwrap_or_default()));
        xml.end_element();
    }
    xml.end_element();
}

fn unanswered(xml: &mut XmlWriter, file: &str, error: &str) {
    xml.start_element("testcase");
    attribute(xml, "classname", file);
    attribute(xml, "name", ANSWER);
    xml.start_element("error");
    attribute(xml, "message", error.lines().next().unwrap_or_default());
    attribute(xml, "type", "no answer");
    text(xml, error);
    xml.end_element();
    xml.end_element();
}

/// The writer escapes quotes and leaves the rest to who calls it.
fn attribute(xml: &mut XmlWriter, name: &str, value: &str) {
    let value = printable(value).replace('&', "&amp;").replace('<', "&lt;");
    xml.write_attribute(name, &value);
}

/// Here it escapes `<`.
fn text(xml: &mut XmlWriter, words: &str) {
    xml.write_text(&printable(words).replace('&', "&amp;").replace("]]>", "]]&gt;"));
}

/// XML 1.0 (2.2) has no place for control characters but tab and line ends, nor for U+FFFE and
/// U+FFFF: the replacement character stands for them.
fn printable(words: &str) -> String {
    let has_place = |one: char| !matches!(one, '\0'..='\u{8}' | '\u{b}' | '\u{c}' | '\u{e}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}');
    words.chars().map(|one| if has_place(one) { one } else { '\u{fffd}' }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::check::Checked;
    use crate::analysis::check::Found;
    use crate::analysis::check::Received;
    use crate::analysis::verdict::SyncState;
    use crate::base::diagnostic::Source;
    use crate::base::diagnostic::Span;
    use crate::base::ticks::ClockRate;
    use crate::scenario::expect::Bounds;
    use crate::scenario::expect::Expectation;
    use crate::scenario::expect::Expected;
    use crate::scenario::expect::FieldAmount;
    use crate::signal::trace::Trace;
    use roxmltree::Document;
    use std::sync::Arc;

    fn finding(name: &str, volts: f64) -> Finding {
        let source = Source { name: "a&b.toml".to_owned(), text: "\n\nblack = 1".to_owned() };
        let bounds = Bounds { low: None, high: Some(0.3) };
        let expected = Expected {
            name: name.to_owned(),
            what: Expectation::Field(FieldAmount::Black, bounds),
            place: Span { source: Arc::new(source), range: 10..11 },
        };
        let met = bounds.margin(volts) >= 0.0;
        Finding { expected, found: Found::Amount(volts), met, shape: None, cause: None }
    }

    #[test]
    fn what_is_written_reads_back_with_every_odd_letter() {
        let rate = ClockRate::new(1, 1).unwrap();
        let socket = Trace { node: "plug".to_owned(), rate, volts: Vec::new() };
        let findings = vec![finding("black", 0.25), finding("<\"&'", 0.301)];
        let received =
            Received { tip_v: 0.0, black_v: 0.3, sync: SyncState::Good, worst: Vec::new() };
        let checked = Checked { findings, socket, received };
        let error = "error: `<&\"'` is \u{7} wrong ]]> here\n  | ^^";
        let answers = [("a&b.toml", Ok(&checked)), ("\"c\".toml", Err(error))];
        let files =
            answers.map(|(file, answer)| CheckedFile { file, answer, notes: &[] as &[String] });
        let mut bytes = Vec::new();
        write_junit(&files, &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let document = Document::parse(&text).unwrap();
        let root = document.root_element();
        assert_eq!(root.tag_name().name(), "testsuites");
        let counts = ["tests", "failures", "errors"].map(|name| root.attribute(name).unwrap());
        assert_eq!(counts, ["3", "1", "1"]);
        let names: Vec<&str> =
            root.descendants().filter_map(|node| node.attribute("name")).collect();
        assert_eq!(
            names,
            ["backporch check", "a&b.toml", "black", "<\"&'", "\"c\".toml", "answer"]
        );
        let one = |tag: &str| root.descendants().find(|node| node.has_tag_name(tag)).unwrap();
        let failure = one("failure");
        let message = failure.attribute("message");
        assert_eq!(message, Some("expected at most 300 mV, found 301 mV"));
        assert_eq!(failure.text().map(str::trim), Some("a&b.toml:3"));
        let said = one("error").text().unwrap();
        assert!(said.contains("error: `<&\"'` is \u{fffd} wrong ]]> here"), "{said}");
    }
}

//! `lesson.html`: all pages of a lesson one under another, a sheet of paper each when printed. It
//! carries its pictures, has no script and points nowhere but to its own sections.

use crate::analysis::lesson::Lesson;
use crate::output::lesson_words::Told;
use crate::output::page::STYLE;
use crate::output::page::html::Html;
use std::io::Write;

/// A sheet for each page, larger letters, and steps to the neighbours.
const LESSON_STYLE: &str = "\
body { font-size: 1.15rem; }\n\
section { margin-bottom: 3rem; }\n\
.steps { display: flex; justify-content: space-between; font-size: 0.95rem; max-width: none; }\n\
@media print {\n\
  body { font-size: 13pt; }\n\
  section { break-before: page; margin: 0; }\n\
  .steps { display: none; }\n\
}\n";

/// A page of the lesson: its words, and its figure as a whole PNG file.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// What is said.
    pub told: &'a Told,
    /// The figure.
    pub figure: &'a [u8],
}

/// Writes the page.
///
/// # Errors
///
/// If `out` fails.
pub fn write_lesson_page(
    lesson: &Lesson,
    sheets: &[Sheet<'_>],
    out: &mut impl Write,
) -> std::io::Result<()> {
    let mut html = Html::default();
    html.ready_made("<!DOCTYPE html>\n");
    html.with("html", &[("lang", "en")], |html| {
        html.with("head", &[], |html| {
            html.empty("meta", &[("charset", "utf-8")]);
            let width = "width=device-width, initial-scale=1";
            html.empty("meta", &[("name", "viewport"), ("content", width)]);
            html.element("title", &[], &format!("A composite line: {}", lesson.title));
            html.with("style", &[], |html| {
                html.ready_made(STYLE);
                html.ready_made(LESSON_STYLE);
            });
        });
        html.with("body", &[], |html| body(lesson, sheets, html));
    });
    out.write_all(html.into_text().as_bytes())
}

fn body(lesson: &Lesson, sheets: &[Sheet<'_>], html: &mut Html) {
    html.element("h1", &[], "How a television game makes its picture");
    html.paragraph(&format!(
        "The board: {}. Every curve and every frame was worked out from it, with the chip's pins as \
         its scenario describes them.",
        lesson.title
    ));
    if let Some(left_out) = left_out(lesson) {
        html.paragraph(&left_out);
    }
    html.with("nav", &[], |html| {
        html.with("ol", &[], |html| {
            for (index, sheet) in sheets.iter().enumerate() {
                let place = format!("#{}", id(index));
                html.with("li", &[], |html| {
                    html.element("a", &[("href", &place)], &sheet.told.heading);
                });
            }
        });
    });
    for (index, sheet) in sheets.iter().enumerate() {
        let heading = format!("{}  {}", index + 1, sheet.told.heading);
        html.section(&id(index), &heading, |html| {
            html.picture(sheet.figure, &sheet.told.heading);
            for sentence in &sheet.told.sentences {
                html.paragraph(sentence);
            }
            if let Some(source) = &sheet.told.source {
                html.element("p", &[("class", "small")], &format!("The standard: {source}"));
            }
            steps(sheets.len(), index, html);
        });
    }
}

/// What this board has no page for.
fn left_out(lesson: &Lesson) -> Option<String> {
    let names = lesson.absent.join(", ");
    (!names.is_empty()).then(|| format!("Nowhere in this picture, and so without a page: {names}."))
}

/// The ways to the pages before and behind.
fn steps(count: usize, index: usize, html: &mut Html) {
    html.with("p", &[("class", "steps")], |html| {
        for (there, words) in [(index.checked_sub(1), "back"), (Some(index + 1), "on")] {
            match there.filter(|&there| there < count) {
                Some(there) => {
                    let place = format!("#{}", id(there));
                    html.element("a", &[("href", &place)], words);
                }
                None => html.element("span", &[], ""),
            }
        }
    });
}

fn id(index: usize) -> String {
    format!("page-{}", index + 1)
}

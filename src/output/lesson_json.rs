//! A lesson as JSON for other programs: what is said on its pages, and the numbers in it.

use crate::analysis::lesson::Lesson;
use crate::output::json::FORMAT;
use crate::output::json::thousandth;
use crate::output::json::write;
use crate::output::lesson_words::Told;
use serde::Serialize;
use std::io::Write;

/// Writes it, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_lesson(lesson: &Lesson, told: &[Told], out: &mut impl Write) -> std::io::Result<()> {
    let pages = told.iter().map(PageReport::new).collect();
    let report = LessonReport {
        format: FORMAT,
        title: &lesson.title,
        line: lesson.line,
        moved: lesson.moved,
        absent: &lesson.absent,
        pages,
    };
    write(&report, out)
}

/// The report.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LessonReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// The board.
    pub title: &'a str,
    /// The line that is built.
    pub line: u32,
    /// Whether paddles and ball were brought to one height.
    pub moved: bool,
    /// Elements that are nowhere in the picture.
    pub absent: &'a [String],
    /// The pages in their order.
    pub pages: Vec<PageReport<'a>>,
}

/// A page.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PageReport<'a> {
    /// Its short name.
    pub name: &'a str,
    /// Its heading.
    pub heading: &'a str,
    /// What is said.
    pub sentences: &'a [String],
    /// What a standard says.
    pub source: Option<&'a str>,
    /// The numbers.
    pub figures: Vec<FigureReport<'a>>,
}

/// A number of the run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FigureReport<'a> {
    /// What it is.
    pub name: &'a str,
    /// Its value in the unit, to a thousandth.
    pub value: f64,
    /// The unit.
    pub unit: &'a str,
}

impl<'a> PageReport<'a> {
    fn new(told: &'a Told) -> Self {
        let figures = told.figures.iter().map(|figure| FigureReport {
            name: &figure.name,
            value: thousandth(figure.value),
            unit: figure.unit,
        });
        Self {
            name: &told.name,
            heading: &told.heading,
            sentences: &told.sentences,
            source: told.source.as_deref(),
            figures: figures.collect(),
        }
    }
}

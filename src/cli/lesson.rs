//! `lesson`: a composite line built step by step from a board, as pages to read.

use crate::cli;
use crate::cli::args::LessonArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use backporch::analysis::lesson::Lesson;
use backporch::analysis::lesson::Page;
use backporch::analysis::lesson::lesson;
use backporch::base::parallel;
use backporch::output::lesson_json::write_lesson;
use backporch::output::lesson_page::Sheet;
use backporch::output::lesson_page::write_lesson_page;
use backporch::output::lesson_view;
use backporch::output::lesson_words::Told;
use backporch::output::lesson_words::told;
use std::path::PathBuf;

/// Answers `lesson`.
pub(crate) fn run(args: &LessonArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let lesson = lesson(&scenario).map_err(|error| Failure::run(&scenario, &error))?;
    let pages: Vec<(Page, Told)> =
        lesson.pages().into_iter().map(|page| (page, told(&lesson, page))).collect();
    let mut paths = String::new();
    if !args.no_pictures {
        let usual = || PathBuf::from("out").join(&scenario.name).join("lesson");
        let folder = args.out.clone().unwrap_or_else(usual);
        for path in write(&lesson, &pages, folder)? {
            paths += &format!("{}\n", path.display());
        }
    }
    if args.json {
        let words: Vec<Told> = pages.into_iter().map(|(_, told)| told).collect();
        let mut json = Vec::new();
        write_lesson(&lesson, &words, &mut json)
            .map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let mut text = format!("{}\n\n", scenario.title);
    for (number, (_, told)) in (1..).zip(&pages) {
        text += &format!("{number:>2}  {}\n", told.heading);
    }
    cli::print(&format!("{text}\n{paths}"))
}

/// The pages' pictures, and the page that walks through them.
fn write(
    lesson: &Lesson,
    pages: &[(Page, Told)],
    folder: PathBuf,
) -> Result<Vec<PathBuf>, Failure> {
    let numbered: Vec<(usize, &(Page, Told))> = (1..).zip(pages).collect();
    let drawn =
        parallel::map(&numbered, |(number, (page, told))| draw(lesson, (*page, told), *number));
    let drawn = drawn.into_iter().collect::<Result<Vec<_>, Failure>>()?;
    let mut files = OutputFolder::new(&folder)?;
    for ((number, (_, told)), (page, _)) in numbered.iter().zip(&drawn) {
        files.write(&format!("{number:02}-{}.png", told.name), page)?;
    }
    let sheets: Vec<Sheet<'_>> =
        pages.iter().zip(&drawn).map(|((_, told), (_, figure))| Sheet { told, figure }).collect();
    let mut html = Vec::new();
    write_lesson_page(lesson, &sheets, &mut html)
        .map_err(|error| Failure::world("lesson.html", &error))?;
    files.write("lesson.html", &html)?;
    files.finish()
}

/// A page and its figure, whole PNG files.
fn draw(
    lesson: &Lesson,
    (page, told): (Page, &Told),
    number: usize,
) -> Result<(Vec<u8>, Vec<u8>), Failure> {
    let fail = |error| Failure::world(&told.heading, &error);
    let (mut whole, mut figure) = (Vec::new(), Vec::new());
    lesson_view::write_page(lesson, (page, told), number, &mut whole).map_err(fail)?;
    lesson_view::write_figure(lesson, page, &mut figure).map_err(fail)?;
    Ok((whole, figure))
}

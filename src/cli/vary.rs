//! `vary`: one setting, or two, through their values.

use crate::cli;
use crate::cli::design_args::VaryArgs;
use crate::cli::failure::Failure;
use crate::cli::files::Library;
use crate::cli::files::OutputFolder;
use crate::cli::said::Said;
use crate::cli::said::refusal;
use backporch::analysis::vary::Point;
use backporch::analysis::vary::points;
use backporch::base::choices::Choices;
use backporch::base::parallel;
use backporch::document::values::choices;
use backporch::output::contact_sheet;
use backporch::output::vary_rows::VaryRows;
use backporch::output::vary_rows::vary_table;
use backporch::output::vary_rows::write_csv;
use backporch::output::vary_rows::write_json;
use backporch::output::vary_view;
use backporch::output::window::windows;
use backporch::scenario::Scenario;
use backporch::signal::picture::Picture;
use backporch::simulate::first_field;
use std::path::PathBuf;

/// Boards that are looked at in one run; more is a task for `spread` or `choose`.
const MOST: usize = 10_000;
/// Frames on one sheet.
const MOST_FRAMES: usize = 60;

/// Answers `vary`.
pub(crate) fn run(args: &VaryArgs) -> Result<(), Failure> {
    let settings = settings(args)?;
    let mut library = Library::default();
    let scenario = library.load(&args.board.scenario, &args.board.set)?;
    let boards = boards(args, &settings, &mut library)?;
    if let Some(other) = boards.iter().find(|one| one.raster.elements != scenario.raster.elements) {
        return Err(Failure::plain(format!(
            "these boards do not draw the same elements: {}, and {}",
            scenario.raster.elements.join(", "),
            other.raster.elements.join(", ")
        )));
    }
    let points: Vec<Result<Point, String>> = points(&boards, args.in_time);
    if let Some(reason) = points.iter().find_map(|point| point.as_ref().err())
        && points.iter().all(Result::is_err)
    {
        return Err(Failure::plain(reason.clone()));
    }
    let rows = VaryRows::new(&scenario, settings, points, args.in_time);
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&scenario.name));
    let mut files = OutputFolder::new(&folder)?;
    let mut png = Vec::new();
    vary_view::write(&rows, &windows(&scenario), &mut png)
        .map_err(|error| Failure::world("vary.png", &error))?;
    files.write("vary.png", &png)?;
    let mut table = Vec::new();
    write_csv(&rows, &mut table).map_err(|error| Failure::world("vary.csv", &error))?;
    files.write("vary.csv", &table)?;
    if args.frames {
        files.write("frames.png", &frames(&rows, &boards)?)?;
    }
    let paths = files.finish()?;
    if args.json {
        let mut json = Vec::new();
        write_json(&rows, &mut json).map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    let written: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
    cli::print(&format!("{}\n{}\n", vary_table(&rows), written.join("\n")))
}

fn settings(args: &VaryArgs) -> Result<Vec<Choices>, Failure> {
    let read = |text: &String| {
        choices(text, usize::from(args.steps), &[])
            .map_err(|error| refusal(error, Said::new("SETTING=VALUES", text).place()))
    };
    let settings: Vec<Choices> = args.settings.iter().map(read).collect::<Result<_, _>>()?;
    if let [first, second] = &settings[..]
        && first.path == second.path
    {
        return Err(Failure::plain(format!("`{}` is varied twice", first.path)));
    }
    let count: usize = settings.iter().map(|setting| setting.values.len()).product();
    if count > MOST {
        return Err(Failure::plain(format!(
            "{count} boards are more than {MOST}: take fewer steps"
        )));
    }
    if args.frames && count > MOST_FRAMES {
        return Err(Failure::plain(format!(
            "{count} frames are more than {MOST_FRAMES}: take fewer steps, such as `--steps 9`"
        )));
    }
    Ok(settings)
}

/// The board with every value of the first setting, and with each of them every one of the second.
fn boards(
    args: &VaryArgs,
    settings: &[Choices],
    library: &mut Library,
) -> Result<Vec<Scenario>, Failure> {
    let mut sets: Vec<Vec<String>> = vec![args.board.set.clone()];
    for setting in settings {
        let with = |set: &Vec<String>| -> Vec<Vec<String>> {
            let one = |text: &str| {
                let mut set = set.clone();
                set.push(format!("{}={text}", setting.path));
                set
            };
            setting.values.iter().map(|value| one(&value.text)).collect()
        };
        sets = sets.iter().flat_map(with).collect();
    }
    sets.iter().map(|set| library.load(&args.board.scenario, set)).collect()
}

/// The picture of every board, with its values and the words for what is not clear.
fn frames(rows: &VaryRows, boards: &[Scenario]) -> Result<Vec<u8>, Failure> {
    let pictures =
        parallel::map(boards, |board| first_field(board).map(|field| field.reception.picture));
    let mut frames: Vec<(String, Picture)> = Vec::new();
    for ((index, board), picture) in boards.iter().enumerate().zip(pictures) {
        let picture = picture.map_err(|error| Failure::run(board, &error))?;
        frames.push((rows.caption(index), picture));
    }
    let columns = rows.settings.get(1).map_or(4, |second| second.values.len());
    let mut png = Vec::new();
    contact_sheet::write(&rows.title, &frames, columns, &mut png)
        .map_err(|error| Failure::world("frames.png", &error))?;
    Ok(png)
}

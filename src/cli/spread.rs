//! `spread`: boards off by what their tolerances allow.

use crate::cli;
use crate::cli::design_args::SpreadArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::interrupt;
use crate::cli::progress::Progress;
use backporch::analysis::spread::Board;
use backporch::analysis::spread::Look;
use backporch::analysis::spread::Run;
use backporch::analysis::spread::RunSpec;
use backporch::analysis::spread::part_of;
use backporch::output::spread_csv::BoardsCsv;
use backporch::output::spread_file::SpreadFile;
use backporch::output::spread_table::board_table;
use backporch::output::spread_table::spread_table;
use backporch::output::spread_view;
use backporch::output::window::windows;
use backporch::scenario::Scenario;
use std::fs::File;
use std::io::BufWriter;
use std::ops::ControlFlow;
use std::path::PathBuf;

/// Answers `spread`.
pub(crate) fn run(args: &SpreadArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    if scenario.spread.is_empty() {
        return Err(Failure::plain(
            "nothing differs from board to board: every tolerance is 0 and the pins are given"
                .to_owned(),
        ));
    }
    let look = match (args.in_time, &args.line) {
        (true, _) => Look::Field,
        (_, Some(number)) => Look::Line(*number),
        _ => Look::Levels,
    };
    let spec = RunSpec { seed: args.seed, look };
    let run = Run::new(&scenario, spec).map_err(|error| Failure::spread(&scenario, &error))?;
    if let Some(number) = args.number {
        return cli::print(&board_table(&scenario, &run.board(number), &run.judged()));
    }
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&scenario.name));
    let mut file = SpreadFile::new(&scenario, &run, args.boards);
    let mut files = OutputFolder::new(&folder)?;
    if args.join.is_empty() {
        solve(args, (&scenario, &run), &mut file, &mut files)?;
    } else {
        join(args, &mut file)?;
    }
    let mut bytes = Vec::new();
    file.write(&mut bytes).map_err(|error| Failure::world("spread.json", &error))?;
    files.write(&name(args, "spread", "json"), &bytes)?;
    if args.part.is_none() && file.tally.boards > file.tally.unsolved {
        let mut png = Vec::new();
        spread_view::write(&file, &windows(&scenario), &mut png)
            .map_err(|error| Failure::world("spread.png", &error))?;
        files.write("spread.png", &png)?;
    }
    let paths = files.finish()?;
    if args.json {
        return cli::print(&String::from_utf8_lossy(&bytes));
    }
    let ended = if interrupt::asked() {
        let done = file.tally.boards;
        format!("Ended early, as asked, after {done} boards: the figures are of those.\n\n")
    } else {
        String::new()
    };
    let written: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
    let table = spread_table(&file, &run.not_judged());
    cli::print(&format!("{ended}{table}\n{}\n", written.join("\n")))
}

fn solve(
    args: &SpreadArgs,
    (scenario, run): (&Scenario, &Run<'_>),
    file: &mut SpreadFile,
    files: &mut OutputFolder,
) -> Result<(), Failure> {
    let (part, of) = args.part.unwrap_or((1, 1));
    let range = part_of(args.boards, part, of);
    let name = name(args, "boards", "csv");
    let wanted = args.csv.then(|| files.create(&name)).transpose()?;
    let csv = |error: std::io::Error| Failure::world(&name, &error);
    let mut csv_out: Option<BoardsCsv<BufWriter<File>>> = wanted
        .map(|file| BoardsCsv::new(scenario, BufWriter::new(file)))
        .transpose()
        .map_err(csv)?;
    let bar = Progress::new("boards");
    interrupt::watch();
    let (start, count) = (range.start, to_count(range.end - range.start));
    let mut take = |boards: &[Board]| -> Result<ControlFlow<()>, Failure> {
        for board in boards {
            file.tally.add(scenario, board);
            if let Some(out) = &mut csv_out {
                out.write(board).map_err(csv)?;
            }
        }
        let done = boards.last().map_or(start, |board| board.number + 1);
        bar.come_to(to_count(done - start), count);
        Ok(if interrupt::asked() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) })
    };
    run.boards(range, &mut take)?;
    bar.finish();
    file.cover(start..start + file.tally.boards);
    if let Some(out) = csv_out {
        out.finish().map_err(csv)?;
    }
    Ok(())
}

fn to_count(boards: u64) -> usize {
    usize::try_from(boards).unwrap_or(usize::MAX)
}

fn join(args: &SpreadArgs, file: &mut SpreadFile) -> Result<(), Failure> {
    for path in &args.join {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path).map_err(|error| Failure::world(&name, &error))?;
        let part = SpreadFile::read(&text)
            .map_err(|error| Failure::world(&format!("`{name}` is no part of a run"), &error))?;
        file.join(&part).map_err(|error| {
            let told = format!(
                "`{name}` cannot be joined: {error} (it is of {} boards, seed {}, {}; this is of {}, \
                 seed {}, {})",
                part.of, part.seed, part.look, file.of, file.seed, file.look
            );
            Failure::plain(told)
        })?;
    }
    Ok(())
}

/// "spread.json", or "spread-03-of-16.json".
fn name(args: &SpreadArgs, what: &str, ending: &str) -> String {
    match args.part {
        None => format!("{what}.{ending}"),
        Some((part, of)) => format!("{what}-{part:02}-of-{of:02}.{ending}"),
    }
}

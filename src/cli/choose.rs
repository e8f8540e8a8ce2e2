//! `choose`: the parts that make a board what is expected of it.

use crate::cli;
use crate::cli::design_args::ChooseArgs;
use crate::cli::failure::Failure;
use crate::cli::files::Library;
use crate::cli::interrupt;
use crate::cli::progress::Progress;
use crate::cli::said::Said;
use crate::cli::said::refusal;
use backporch::analysis::choose::Candidate;
use backporch::analysis::choose::Move;
use backporch::analysis::choose::Search;
use backporch::analysis::choose::SearchSpec;
use backporch::analysis::choose::check_apart;
use backporch::analysis::choose::search;
use backporch::analysis::rating::Word;
use backporch::analysis::rating::ratings;
use backporch::analysis::spread::Look;
use backporch::analysis::spread::Run;
use backporch::analysis::spread::RunSpec;
use backporch::analysis::spread::judge::Judge;
use backporch::analysis::spread::level_names;
use backporch::analysis::spread::tally::Tally;
use backporch::base::choices::Choice;
use backporch::base::choices::Choices;
use backporch::base::diagnostic::Diagnostic;
use backporch::base::math;
use backporch::base::parallel;
use backporch::document::values::choices;
use backporch::output::choose_rows::ChooseRows;
use backporch::output::choose_rows::Found;
use backporch::output::choose_rows::Searched;
use backporch::output::choose_rows::choose_table;
use backporch::output::choose_rows::write_json;
use backporch::scenario::Scenario;
use std::ops::ControlFlow;
use std::path::Path;
use std::path::PathBuf;

/// Values of a range that does not say how many.
const STEPS: usize = 11;
/// Boards kept of each search for every one that is shown: some of them may be at *stop*.
const KEPT: usize = 60;
/// Boards of each search that are looked at over their tolerances, for every one that is shown.
const LOOKED_AT: usize = 20;
/// Boards made of each of those, to put them in order.
const FEW: u64 = 200;

/// Answers `choose`.
pub(crate) fn run(args: &ChooseArgs) -> Result<(), Failure> {
    let mut library = Library::default();
    interrupt::watch();
    let mut tasks = Vec::new();
    for path in &args.scenarios {
        tasks.push(Task::new(path, args, &mut library)?);
    }
    let mut searches = Vec::new();
    for task in &tasks {
        searches.push(task.search(args)?);
    }
    let rows = rows(args, &tasks, searches, &mut library)?;
    if args.json {
        let mut json = Vec::new();
        write_json(&rows, &mut json).map_err(|error| Failure::world("standard output", &error))?;
        return cli::print(&String::from_utf8_lossy(&json));
    }
    cli::print(&choose_table(&rows))
}

/// One scenario and what may be moved in it.
struct Task {
    path: PathBuf,
    set: Vec<String>,
    scenario: Scenario,
    settings: Vec<Choices>,
    moves: Vec<Move>,
}

impl Task {
    fn new(path: &Path, args: &ChooseArgs, library: &mut Library) -> Result<Self, Failure> {
        let scenario = library.load(path, &args.set)?;
        let settings = settings(path, args, &scenario)?;
        let judge = Judge::new(&scenario, false);
        if judge.names().is_empty() {
            let message = format!("`{}` expects nothing of its levels", path.display());
            let hint = "say it in the scenario, as `[expect.left]` and \
                        `delta = [\"250 mV\", \"330 mV\"]`";
            return Err(advised(message, hint));
        }
        let mut moves = Vec::new();
        for setting in &settings {
            let mut boards = Vec::new();
            for value in &setting.values {
                let mut set = args.set.clone();
                set.push(format!("{}={}", setting.path, value.text));
                boards.push(library.load(path, &set)?);
            }
            let one = Move::new(&setting.path, &scenario, &boards)
                .map_err(|error| Failure::plain(error.to_string()))?;
            moves.push(one);
        }
        check_apart(&scenario, &moves).map_err(|error| Failure::plain(error.to_string()))?;
        Ok(Self { path: path.to_owned(), set: args.set.clone(), scenario, settings, moves })
    }

    fn search(&self, args: &ChooseArgs) -> Result<Search, Failure> {
        let keep = KEPT * usize::from(args.most);
        let spec = SearchSpec { seed: args.seed, budget: args.budget, keep };
        let bar = Progress::new("boards");
        let count = |boards: u64| usize::try_from(boards).unwrap_or(usize::MAX);
        let mut on = |done: u64, of: u64| {
            bar.come_to(count(done), count(of));
            !interrupt::asked()
        };
        let found = search(&self.scenario, &self.moves, spec, &mut on)
            .map_err(|error| Failure::levels(&self.scenario, &error));
        bar.finish();
        found
    }

    /// The values of a board that was found.
    fn values(&self, candidate: &Candidate) -> Vec<(String, Choice)> {
        let picks = self.settings.iter().zip(&candidate.picks);
        let value = |(setting, &pick): (&Choices, &usize)| {
            (setting.path.clone(), setting.values[pick].clone())
        };
        picks.map(value).collect()
    }

    /// That board, whole: with its own limits and tolerances.
    fn load(&self, candidate: &Candidate, library: &mut Library) -> Result<Scenario, Failure> {
        let mut set = self.set.clone();
        for (setting, &pick) in self.settings.iter().zip(&candidate.picks) {
            set.push(format!("{}={}", setting.path, setting.values[pick].text));
        }
        library.load(&self.path, &set)
    }
}

/// The moves of the file, and those of the command line over them.
fn settings(path: &Path, args: &ChooseArgs, scenario: &Scenario) -> Result<Vec<Choices>, Failure> {
    let drawer = if args.drawer.is_empty() { &scenario.choose.drawer } else { &args.drawer };
    let mut settings: Vec<Choices> = Vec::new();
    for (text, place) in &scenario.choose.moves {
        let read = choices(text, STEPS, drawer);
        settings.push(read.map_err(|error| refusal(error, place.clone()))?);
    }
    for text in &args.moves {
        let read = choices(text, STEPS, drawer)
            .map_err(|error| refusal(error, Said::new("--move", text).place()))?;
        settings.retain(|known| known.path != read.path);
        settings.push(read);
    }
    if settings.is_empty() {
        let message = format!("nothing of `{}` may be moved", path.display());
        return Err(advised(message, "say what may, as `--move R1=E12:1k..10k`"));
    }
    Ok(settings)
}

fn advised(message: String, hint: &str) -> Failure {
    let hint = Some(hint.to_owned());
    Failure::input(vec![Diagnostic { message, span: None, expected: String::new(), hint }])
}

/// The boards that come out right most often over their tolerances, of the nearest ones of all searches;
/// with `--nearest` the nearest ones themselves. None that a rating stops.
fn rows(
    args: &ChooseArgs,
    tasks: &[Task],
    searches: Vec<Search>,
    library: &mut Library,
) -> Result<ChooseRows, Failure> {
    let most = usize::from(args.most);
    let looked_at = if args.nearest { most } else { LOOKED_AT * most };
    let (mut boards, mut stopped) = (Vec::new(), Vec::new());
    for (of, (task, search)) in tasks.iter().zip(&searches).enumerate() {
        let mut fit = 0;
        for candidate in &search.ranked {
            if fit == looked_at {
                break;
            }
            let board = task.load(candidate, library)?;
            match stop(&board)? {
                Some(words) => stopped.push(words),
                None => {
                    fit += 1;
                    boards.push(Rated { of, candidate, board });
                }
            }
        }
    }
    boards.sort_by(|a, b| {
        mean_square(a.candidate).total_cmp(&mean_square(b.candidate)).then(a.of.cmp(&b.of))
    });
    if !args.nearest {
        let good = parallel::map(&boards, |one| one.good(args.seed));
        let mut order: Vec<(u64, Rated<'_>)> = good.into_iter().zip(boards).collect();
        order.sort_by_key(|(good, _)| std::cmp::Reverse(*good));
        boards = order.into_iter().map(|(_, one)| one).collect();
    }
    boards.truncate(most);
    let found: Vec<Found> = boards
        .iter()
        .map(|one| found_board(args, (one.of, &tasks[one.of]), one.candidate, &one.board))
        .collect::<Result<_, _>>()?;
    let mut found = found;
    // The few that put them in order are not the many that are told.
    if !args.nearest {
        found.sort_by_key(|one| std::cmp::Reverse(one.tally.good));
    }
    let searched = tasks.iter().zip(&searches).map(|(task, search)| Searched {
        file: task.path.display().to_string(),
        title: task.scenario.title.clone(),
        moves: task.settings.iter().map(|one| (one.path.clone(), one.values.len())).collect(),
        search: search.clone(),
        not_judged: owned(&Judge::new(&task.scenario, false).left_out()),
    });
    Ok(ChooseRows { searched: searched.collect(), found, stopped, seed: args.seed })
}

/// A board that was found, and that no rating stops.
struct Rated<'a> {
    of: usize,
    candidate: &'a Candidate,
    board: Scenario,
}

impl Rated<'_> {
    /// Of a few boards off by their tolerances, how many come out right.
    fn good(&self, seed: u64) -> u64 {
        let spec = RunSpec { seed, look: Look::Levels };
        let Ok(run) = Run::new(&self.board, spec) else { return 0 };
        let good = |number: &u64| run.board(*number).measured.is_some_and(|found| found.is_good());
        (0..FEW).map(|number| u64::from(good(&number))).sum()
    }
}

fn owned(names: &[&str]) -> Vec<String> {
    names.iter().map(|&name| name.to_owned()).collect()
}

fn mean_square(candidate: &Candidate) -> f64 {
    candidate.cost / math::from_usize(candidate.off.len().max(1))
}

/// The first rating of a board that is *stop*, in words; one that cannot be rated is stopped too.
fn stop(board: &Scenario) -> Result<Option<String>, Failure> {
    let all = ratings(board).map_err(|error| Failure::network(board, &error))?;
    let stopped = all.iter().find(|rating| rating.word == Word::Stop);
    Ok(stopped.map(|rating| format!("{}, {}", rating.part, rating.subject.word())))
}

fn found_board(
    args: &ChooseArgs,
    (of, task): (usize, &Task),
    candidate: &Candidate,
    board: &Scenario,
) -> Result<Found, Failure> {
    let spec = RunSpec { seed: args.seed, look: Look::Levels };
    let run = Run::new(board, spec).map_err(|error| Failure::spread(board, &error))?;
    let judged = run.judged();
    let mut tally = Tally::new(board, judged.len());
    let taken: Result<(), Failure> = run.boards(0..args.boards, &mut |boards| {
        boards.iter().for_each(|one| tally.add(board, one));
        Ok(if interrupt::asked() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) })
    });
    taken?;
    let mut missed: Vec<(String, u64)> = judged
        .iter()
        .zip(&tally.unmet)
        .filter(|(_, count)| **count > 0)
        .map(|(name, count)| ((*name).to_owned(), *count))
        .collect();
    missed.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let because = missed.first().and_then(|(name, _)| because(board, &tally, name));
    let worst = judged.iter().zip(&candidate.off).max_by(|a, b| a.1.total_cmp(b.1));
    let own = run.own_levels().map_err(|error| Failure::network(board, &error))?;
    Ok(Found {
        of,
        settings: task.values(candidate),
        off: mean_square(candidate).sqrt(),
        worst: worst.map(|(name, off)| ((*name).to_owned(), *off)),
        levels: level_names(board).into_iter().zip(own).collect(),
        tally,
        missed,
        because,
    })
}

/// What decides the level that an expectation is about.
fn because(board: &Scenario, tally: &Tally, name: &str) -> Option<(String, f64)> {
    let subject = match name {
        "sync" | "sync_depth" => "depth",
        other => other.split('.').next()?,
    };
    let level = level_names(board).iter().position(|level| level == subject)?;
    let shares = tally.shares(level);
    let most = shares.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    Some((board.spread[most.0].name.clone(), *most.1))
}

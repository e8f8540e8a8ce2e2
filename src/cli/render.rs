//! `render`: the picture, the waveform, and a word for every element.

use crate::cli;
use crate::cli::args::RenderArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use crate::cli::motion::Motion;
use crate::cli::motion::MotionReport;
use crate::cli::motion::check_length;
use crate::cli::page;
use crate::cli::progress::Progress;
use backporch::analysis::examine::examine;
use backporch::analysis::modulation::Modulation;
use backporch::analysis::modulation::modulation;
use backporch::analysis::rating::Rating;
use backporch::analysis::rating::ratings;
use backporch::analysis::reading::FieldReading;
use backporch::base::parallel;
use backporch::network::circuit::NodeId;
use backporch::output::csv::CsvSink;
use backporch::output::field_view;
use backporch::output::field_view::FieldView;
use backporch::output::json::ReportParts;
use backporch::output::json::write_report;
use backporch::output::line_view;
use backporch::output::line_view::LineView;
use backporch::output::lock_words::FieldLock;
use backporch::output::lock_words::answer_table;
use backporch::output::lock_words::answer_warnings;
use backporch::output::lock_words::field_lock_lines;
use backporch::output::modulation_table::CAUTION;
use backporch::output::modulation_table::modulation_table;
use backporch::output::modulation_view;
use backporch::output::panel::blanking_v;
use backporch::output::png::write_frame;
use backporch::output::rating_table::rating_table;
use backporch::output::table::reading_table;
use backporch::output::vcd::VcdSink;
use backporch::output::wav::WavSink;
use backporch::receiver::spec::Reception;
use backporch::scenario::Scenario;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;
use backporch::simulate::Run;
use backporch::simulate::RunError;
use backporch::simulate::Stage;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::BufWriter;
use std::path::PathBuf;

/// Answers `render`.
pub(crate) fn run(args: &RenderArgs) -> Result<(), Failure> {
    let scenario = files::scenario(&args.board)?;
    let taps = taps(&scenario, &args.taps)?;
    check_line(&scenario, args.line)?;
    let bench = bench(&scenario, &taps, args).map_err(|error| Failure::run(&scenario, &error))?;
    check_length(&scenario, &bench, args)?;
    let mut run = bench.run().map_err(|error| Failure::run(&scenario, &error))?;
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(&scenario.name));
    let progress = Progress::fields(args.fields);

    let first = next_field(&scenario, &mut run, &progress)?;
    let reading =
        examine(&scenario, &first).map_err(|error| Failure::network(&scenario, &error))?;
    let ratings = ratings(&scenario).map_err(|error| Failure::network(&scenario, &error))?;
    let modulation = modulation(&scenario).map_err(|error| Failure::run(&scenario, &error))?;
    let warnings = warnings(&scenario, &first, &reading);
    let mut files = OutputFolder::new(&folder)?;
    let mut views = write_views(&mut files, &scenario, args, &first, &reading)?;
    if let Some(modulation) = &modulation {
        let png = views.carrier.insert(Vec::new());
        modulation_view::write(&scenario.title, modulation, png)
            .map_err(|error| Failure::world("modulation.png", &error))?;
        files.write("modulation.png", png)?;
    }
    let mut sinks = Sinks::new(&mut files, &scenario, &bench, args)?;
    let mut motion = Motion::new(&mut files, &scenario, &first, args)?;
    sinks.write(&first)?;
    motion.write(&first, &mut run)?;
    let mut locks = vec![field_lock(&scenario, &first)];
    for field in 2..=args.fields {
        let next = next_field(&scenario, &mut run, &progress)?;
        sinks.write(&next)?;
        motion.write(&next, &mut run)?;
        locks.push(field_lock(&scenario, &next));
        if !args.animate {
            files.write(&frame_name(field), &frame(&next)?)?;
        }
    }
    sinks.finish()?;
    let motion = motion.finish(&mut run, modulation.as_ref())?;
    let told = Told {
        field: &first,
        reading: &reading,
        locks: &locks,
        modulation: modulation.as_ref(),
        ratings: &ratings,
        warnings: &warnings,
        motion: &motion,
    };
    if args.report {
        files.write("report.html", &page::draw(&scenario, &told, &views)?)?;
    }
    write_report_file(&mut files, &scenario, &run, &told)?;
    progress.finish();
    let paths = files.finish()?;
    cli::print(&summary(&scenario, &told, &run, &paths))
}

fn bench<'a>(
    scenario: &'a Scenario,
    taps: &[NodeId],
    args: &RenderArgs,
) -> Result<Bench<'a>, RunError> {
    let bench = Bench::new(scenario, taps)?;
    if args.sound { bench.with_sound() } else { Ok(bench) }
}

fn next_field(
    scenario: &Scenario,
    run: &mut Run,
    progress: &Progress,
) -> Result<FieldRun, Failure> {
    progress.stage("solving the board");
    let field = run
        .advance_field(&mut |stage| {
            progress.stage(match stage {
                Stage::Raster => "solving the board",
                Stage::Network => "receiving",
                Stage::Receiver => "writing",
            });
        })
        .map_err(|error| Failure::run(scenario, &error))?;
    progress.field_done();
    Ok(field)
}

fn field_lock(scenario: &Scenario, field: &FieldRun) -> FieldLock {
    let reception = &field.reception;
    FieldLock { lock: reception.lock, states: scenario.received.lock.states_of(reception) }
}

fn taps(scenario: &Scenario, names: &[String]) -> Result<Vec<NodeId>, Failure> {
    names
        .iter()
        .map(|name| {
            scenario.circuit.node(name).ok_or_else(|| {
                let nodes = scenario.circuit.nodes.join("`, `");
                Failure::plain(format!("--tap: there is no node `{name}`; there are `{nodes}`"))
            })
        })
        .collect()
}

fn check_line(scenario: &Scenario, line: Option<u32>) -> Result<(), Failure> {
    let lines = scenario.raster.timing.lines_per_field;
    match line {
        Some(line) if line >= lines => Err(Failure::plain(format!(
            "--line: there is no line {line}; the field has lines 0 to {}",
            lines - 1
        ))),
        _ => Ok(()),
    }
}

/// The first field's frame has the plain name, whatever follows it.
fn frame_name(field: u32) -> String {
    if field == 1 { "frame.png".to_owned() } else { format!("frame-{field:04}.png") }
}

/// `frame.png` of a field.
pub(crate) fn frame(field: &FieldRun) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    write_frame(&field.reception.picture, &mut bytes)
        .map_err(|error| Failure::world("frame.png", &error))?;
    Ok(bytes)
}

/// The pictures of the first field, whole PNG files.
pub(crate) struct Views {
    pub(crate) frame: Vec<u8>,
    pub(crate) line: Vec<u8>,
    pub(crate) field: Vec<u8>,
    /// A modulator's carrier.
    pub(crate) carrier: Option<Vec<u8>>,
}

/// The three pictures of the first field, drawn at once.
fn write_views(
    files: &mut OutputFolder,
    scenario: &Scenario,
    args: &RenderArgs,
    field: &FieldRun,
    reading: &FieldReading,
) -> Result<Views, Failure> {
    let title = scenario.title.as_str();
    let line = args.line.unwrap_or_else(|| field.trains.map.line_that_shows_most());
    let line_view = LineView {
        title,
        line,
        trains: &field.trains,
        traces: &field.traces,
        reception: &field.reception,
        reading,
    };
    let field_view = FieldView {
        title,
        timing: &field.trains.timing,
        trace: &field.traces[0],
        reception: &field.reception,
        reading,
    };
    let drawn = parallel::three(
        || frame(field),
        || {
            let mut bytes = Vec::new();
            line_view::write(&line_view, &mut bytes)
                .map_err(|error| Failure::world("line.png", &error))?;
            Ok(bytes)
        },
        || {
            let mut bytes = Vec::new();
            field_view::write(&field_view, &mut bytes)
                .map_err(|error| Failure::world("field.png", &error))?;
            Ok(bytes)
        },
    );
    let views = Views { frame: drawn.0?, line: drawn.1?, field: drawn.2?, carrier: None };
    files.write(&frame_name(1), &views.frame)?;
    files.write("line.png", &views.line)?;
    files.write("field.png", &views.field)?;
    Ok(views)
}

/// The waveforms on their way to files, field by field.
struct Sinks {
    wav: Option<WavSink<File>>,
    csv: Option<CsvSink<BufWriter<File>>>,
    vcd: Option<VcdSink<BufWriter<File>>>,
}

impl Sinks {
    fn new(
        files: &mut OutputFolder,
        scenario: &Scenario,
        bench: &Bench,
        args: &RenderArgs,
    ) -> Result<Self, Failure> {
        let names = bench.trace_names();
        let samples = scenario.raster.timing.clocks_per_field()
            * u64::from(scenario.solve.samples_per_clock)
            * u64::from(args.fields);
        let wav = if args.no_waveform {
            None
        } else {
            let file = files.create("waveform.wav")?;
            let sink = WavSink::new(file, bench.rate(), names.len(), samples);
            Some(sink.map_err(|error| Failure::world("waveform.wav", &error))?)
        };
        let csv = if args.csv {
            let file = BufWriter::new(files.create("waveform.csv")?);
            let sink = CsvSink::new(file, bench.rate(), &names);
            Some(sink.map_err(|error| Failure::world("waveform.csv", &error))?)
        } else {
            None
        };
        let vcd = if args.vcd {
            let file = BufWriter::new(files.create("trains.vcd")?);
            let sink = VcdSink::new(file, scenario.raster.timing.clock, &scenario.raster.pins);
            Some(sink.map_err(|error| Failure::world("trains.vcd", &error))?)
        } else {
            None
        };
        Ok(Self { wav, csv, vcd })
    }

    fn write(&mut self, field: &FieldRun) -> Result<(), Failure> {
        if let Some(wav) = &mut self.wav {
            wav.write_field(&field.traces)
                .map_err(|error| Failure::world("waveform.wav", &error))?;
        }
        if let Some(csv) = &mut self.csv {
            csv.write_field(&field.traces)
                .map_err(|error| Failure::world("waveform.csv", &error))?;
        }
        if let Some(vcd) = &mut self.vcd {
            vcd.write_field(&field.trains).map_err(|error| Failure::world("trains.vcd", &error))?;
        }
        Ok(())
    }

    fn finish(self) -> Result<(), Failure> {
        if let Some(wav) = self.wav {
            wav.finish().map_err(|error| Failure::world("waveform.wav", &error))?;
        }
        if let Some(csv) = self.csv {
            csv.finish().map_err(|error| Failure::world("waveform.csv", &error))?;
        }
        if let Some(vcd) = self.vcd {
            vcd.finish().map_err(|error| Failure::world("trains.vcd", &error))?;
        }
        Ok(())
    }
}

/// What is told of the first field.
pub(crate) struct Told<'a> {
    pub(crate) field: &'a FieldRun,
    pub(crate) reading: &'a FieldReading,
    pub(crate) locks: &'a [FieldLock],
    pub(crate) modulation: Option<&'a Modulation>,
    pub(crate) ratings: &'a [Rating],
    pub(crate) warnings: &'a [String],
    pub(crate) motion: &'a MotionReport,
}

fn write_report_file(
    files: &mut OutputFolder,
    scenario: &Scenario,
    run: &Run,
    told: &Told,
) -> Result<(), Failure> {
    let (counts, recall) = (run.counts(), run.recall_counts());
    let counts: BTreeMap<String, u64> = [
        ("steps", counts.steps),
        ("rejected steps", counts.rejected),
        ("Newton iterations", counts.iterations),
        ("factorizations", counts.factorizations),
        ("warm-up fields", u64::from(run.warm_up_fields)),
        ("stretches recalled", recall.recalled),
        ("stretches solved", recall.solved),
    ]
    .into_iter()
    .map(|(name, count)| (name.to_owned(), count))
    .collect();
    let mut names = files.names();
    names.push("report.json".to_owned());
    let parts = ReportParts {
        title: &scenario.title,
        scenario: &scenario.name,
        samples_per_clock: scenario.solve.samples_per_clock,
        run: told.field,
        reading: told.reading,
        locks: told.locks,
        counts: &counts,
        modulation: told.modulation,
        animation: told.motion.animation.as_ref(),
        sound: told.motion.sound.as_ref(),
        ratings: told.ratings,
        warnings: told.warnings,
        files: &names,
    };
    let mut bytes = Vec::new();
    write_report(parts, &mut bytes).map_err(|error| Failure::world("report.json", &error))?;
    files.write("report.json", &bytes)
}

/// What is probably tied wrongly, then what is wrong with the waveform.
pub(crate) fn warnings(
    scenario: &Scenario,
    field: &FieldRun,
    reading: &FieldReading,
) -> Vec<String> {
    let mut all = scenario.cautions();
    if field.reception.sync.is_none() {
        all.push(
            "the set finds no sync and runs free: the frame is one moment of a picture that rolls"
                .to_owned(),
        );
    }
    all.extend(answer_warnings(&field.reception));
    let low = reading.taken_for_sync();
    if !low.is_empty() {
        all.push(format!(
            "{} goes below the middle of the sync pulse: the set takes it for sync",
            low.join(", ")
        ));
    }
    all
}

/// How the set settled, and how the board did.
pub(crate) fn how_settled(reception: &Reception, run: &Run) -> Vec<String> {
    let mut sentences = Vec::new();
    match reception.lock.settled_fields {
        Some(fields) => {
            sentences.push(format!("The set is settled after {fields} fields of sync."));
        }
        None if reception.refused() => {}
        None => {
            sentences.push("The set does not settle: this is a moment of what moves.".to_owned());
        }
    }
    if run.warm_up_fields > 0 {
        let fields = if run.warm_up_fields == 1 { "field" } else { "fields" };
        sentences.push(format!("Settled after {} {fields} of warm-up.", run.warm_up_fields));
    }
    sentences
}

fn summary(scenario: &Scenario, told: &Told, run: &Run, paths: &[PathBuf]) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    let reception = &told.field.reception;
    let blanking_v = blanking_v(reception, told.reading);
    text += &reading_table(told.reading, &reception.lock, blanking_v);
    text += &field_lock_lines(told.locks);
    let asked = answer_table(reception);
    if !asked.is_empty() {
        text += &format!("\n{asked}");
    }
    if let Some(modulation) = told.modulation {
        text += &format!("\n{}\n{CAUTION}\n", modulation_table(modulation));
    }
    text += &format!("\n{}", rating_table(told.ratings));
    for warning in told.warnings {
        text += &format!("\n{warning}\n");
    }
    for sentence in how_settled(reception, run) {
        text += &format!("\n{sentence}\n");
    }
    if let Some(sound) = &told.motion.sound {
        text += &format!("\n{}\n", sound.words());
    }
    text.push('\n');
    for path in paths {
        text += &format!("{}\n", path.display());
    }
    text
}

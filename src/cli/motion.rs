//! `render --animate` and `--sound`: what a run of fields leaves besides its waveform.

use crate::cli::args::RenderArgs;
use crate::cli::failure::Failure;
use crate::cli::files::OutputFolder;
use backporch::analysis::modulation::Modulation;
use backporch::output::animation::AnimationSink;
use backporch::output::animation::Delay;
use backporch::output::motion_json::AnimationReport;
use backporch::output::motion_json::SoundReport;
use backporch::output::wav::WavSink;
use backporch::output::wav::fitting_samples;
use backporch::scenario::Scenario;
use backporch::signal::trace::Trace;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;
use backporch::simulate::Run;
use backporch::simulate::sound;
use backporch::sound::SOUND_HZ;
use std::fs::File;
use std::io::BufWriter;

/// What is told of it in `report.json`.
#[derive(Debug, Default)]
pub(crate) struct MotionReport {
    pub(crate) animation: Option<AnimationReport>,
    pub(crate) sound: Option<SoundReport>,
}

/// The animation and the sound on their way to files.
pub(crate) struct Motion {
    animation: Option<AnimationSink<BufWriter<File>>>,
    sound: Option<WavSink<File>>,
    report: MotionReport,
}

const ANIMATION: &str = "animation.png";
const SOUND: &str = "sound.wav";

impl Motion {
    /// Begins the files that were asked for; `first` is the first field, which is not written yet.
    pub(crate) fn new(
        files: &mut OutputFolder,
        scenario: &Scenario,
        first: &FieldRun,
        args: &RenderArgs,
    ) -> Result<Self, Failure> {
        let timing = &scenario.raster.timing;
        let mut report = MotionReport::default();
        let animation = if args.animate {
            let delay = Delay::of(timing);
            report.animation = Some(AnimationReport::new(args.fields, delay, timing));
            let file = BufWriter::new(files.create(ANIMATION)?);
            let sink = AnimationSink::new(file, &first.reception.picture, args.fields, delay);
            Some(sink.map_err(|error| Failure::world(ANIMATION, &error))?)
        } else {
            None
        };
        let sound = if args.sound {
            report.sound = Some(SoundReport::new(&scenario.raster.tones(), timing, SOUND_HZ));
            let samples = sound::samples(scenario, args.fields);
            let sink = WavSink::new(files.create(SOUND)?, sound::rate(), 1, samples);
            Some(sink.map_err(|error| Failure::world(SOUND, &error))?)
        } else {
            None
        };
        Ok(Self { animation, sound, report })
    }

    /// Writes a field, which `run` has just come to.
    pub(crate) fn write(&mut self, field: &FieldRun, run: &mut Run) -> Result<(), Failure> {
        if let Some(animation) = &mut self.animation {
            animation
                .write_frame(&field.reception.picture)
                .map_err(|error| Failure::world(ANIMATION, &error))?;
        }
        if let Some(report) = &mut self.report.sound {
            report.count(run.event());
        }
        self.hear(run.heard())
    }

    /// Completes the files.
    pub(crate) fn finish(
        mut self,
        run: &mut Run,
        modulation: Option<&Modulation>,
    ) -> Result<MotionReport, Failure> {
        self.hear(run.last_heard())?;
        if let Some(animation) = self.animation {
            animation.finish().map_err(|error| Failure::world(ANIMATION, &error))?;
        }
        if let Some(sink) = self.sound {
            sink.finish().map_err(|error| Failure::world(SOUND, &error))?;
        }
        let buzz = modulation.map(|modulation| modulation.buzz).filter(|buzz| buzz.is_heard());
        if let (Some(report), Some(buzz)) = (&mut self.report.sound, buzz) {
            report.estimate_buzz(buzz.level_db);
        }
        Ok(self.report)
    }

    fn hear(&mut self, volts: Vec<f32>) -> Result<(), Failure> {
        let Some(sink) = &mut self.sound else { return Ok(()) };
        if let Some(report) = &mut self.report.sound {
            report.hear(&volts);
        }
        sink.write_field(&[Trace { node: "loudspeaker".to_owned(), rate: sound::rate(), volts }])
            .map_err(|error| Failure::world(SOUND, &error))
    }
}

/// Refuses a waveform or a sound that no file can hold before anything is solved.
pub(crate) fn check_length(
    scenario: &Scenario,
    bench: &Bench,
    args: &RenderArgs,
) -> Result<(), Failure> {
    let sound_fits = sound::samples(scenario, args.fields) <= fitting_samples(1);
    if args.sound && !sound_fits {
        return Err(Failure::plain(format!(
            "--fields: {} fields make a sound.wav of more than 4 GiB, the most that a WAV file holds: \
             expected six hours of them at most",
            args.fields
        )));
    }
    if args.no_waveform {
        return Ok(());
    }
    let samples =
        scenario.raster.timing.clocks_per_field() * u64::from(scenario.solve.samples_per_clock);
    let channels = bench.trace_names().len();
    let fit = fitting_samples(channels) / samples.max(1);
    if u64::from(args.fields) <= fit {
        return Ok(());
    }
    let seconds = bench.rate().seconds(samples.saturating_mul(fit));
    Err(Failure::plain(format!(
        "--fields: {} fields make a waveform.wav of more than 4 GiB, the most that a WAV file holds; \
         {fit} fit, {seconds:.1} s: expected no more, fewer --tap, a smaller \
         `--set solve.samples_per_clock`, or --no-waveform, which leaves it out",
        args.fields
    )))
}

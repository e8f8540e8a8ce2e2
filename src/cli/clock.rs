//! `clock`: what the chip's clock is, and which coil makes it.

use crate::cli;
use crate::cli::clock_args::AboutArgs;
use crate::cli::clock_args::BeatArgs;
use crate::cli::clock_args::ClockArgs;
use crate::cli::clock_args::ClockQuestion;
use crate::cli::clock_args::CoilArgs;
use crate::cli::clock_args::GoalArgs;
use crate::cli::clock_args::TankArgs;
use crate::cli::clock_args::ToneArgs;
use crate::cli::failure::Failure;
use crate::cli::files;
use crate::cli::files::OutputFolder;
use backporch::analysis::clock::Counts;
use backporch::analysis::clock::Rates;
use backporch::analysis::clock::beat;
use backporch::analysis::clock::beat::Seen;
use backporch::analysis::clock::choose::Adjuster;
use backporch::analysis::clock::choose::Wanted;
use backporch::analysis::clock::lock::Windows;
use backporch::analysis::clock::rates;
use backporch::analysis::clock::tank;
use backporch::analysis::clock::tone::Heard;
use backporch::analysis::clock::tone::Tone;
use backporch::output::choice_table::choice_table;
use backporch::output::clock_json;
use backporch::output::clock_table;
use backporch::output::clock_view;
use backporch::output::clock_view::ClockView;
use backporch::output::heard_table;
use backporch::profile::Profile;
use backporch::profile::builtin;
use backporch::raster::rules::Tones;
use backporch::scenario::Scenario;
use backporch::scenario::set_library::Standard;
use backporch::signal::tank::Coil;
use backporch::signal::tank::STATED_CELSIUS;
use backporch::signal::tank::Tank;
use backporch::signal::tank::TankCapacitor;
use backporch::signal::tank::Tap;
use backporch::signal::tank::USUAL_CORE_RANGE;
use backporch::signal::tank::USUAL_STRAY_FARADS;
use std::path::PathBuf;

/// The chip where none is named.
pub(crate) const USUAL_CHIP: &str = "two-player-50";

/// Answers `clock`.
pub(crate) fn run(args: &ClockArgs) -> Result<(), Failure> {
    match &args.question {
        ClockQuestion::Tank(args) => answer_tank(args),
        ClockQuestion::Coil(args) => answer_coil(args),
        ClockQuestion::Tone(args) => answer_tone(args),
        ClockQuestion::Beat(args) => answer_beat(args),
    }
}

/// What every question is about.
struct About {
    scenario: Option<Scenario>,
    counts: Counts,
    tones: Tones,
    standard: Standard,
    mains_hz: f64,
}

impl About {
    fn of(args: &AboutArgs) -> Result<Self, Failure> {
        let scenario = match &args.scenario {
            Some(path) => Some(files::load_scenario(path, &args.set)?),
            None => None,
        };
        let (timing, tones) = match &scenario {
            Some(scenario) => (scenario.raster.timing, scenario.raster.tones()),
            None => {
                let chip = built_in(args.chip.as_deref().unwrap_or(USUAL_CHIP))?;
                (chip.timing, chip.tones)
            }
        };
        let mut counts = Counts::from(&timing);
        counts.lines_per_field = args.lines.unwrap_or(counts.lines_per_field);
        counts.clocks_per_line = args.clocks_per_line.unwrap_or(counts.clocks_per_line);
        let standard = args.standard.unwrap_or(counts.standard());
        let usual_mains = match standard {
            Standard::Lines625 => 50.0,
            Standard::Lines525 => 60.0,
        };
        let mains_hz = args.mains.unwrap_or(usual_mains);
        Ok(Self { scenario, counts, tones, standard, mains_hz })
    }

    fn rates(&self, clock_hz: f64) -> Rates {
        rates(clock_hz, (self.counts, &self.tones), self.standard, self.mains_hz)
    }

    fn aim_hz(&self, goal: &GoalArgs) -> f64 {
        goal.aim.unwrap_or_else(|| self.counts.nominal_hz(self.standard))
    }

    fn own_tank(&self) -> Option<Tank> {
        self.scenario.as_ref().and_then(|scenario| scenario.tank)
    }
}

fn built_in(name: &str) -> Result<Profile, Failure> {
    builtin::chip(name).ok_or_else(|| {
        let known = builtin::BUILTIN.map(|(name, _)| name).join("`, `");
        Failure::plain(format!("there is no built-in chip `{name}`; there are `{known}`"))
    })
}

fn answer_tank(args: &TankArgs) -> Result<(), Failure> {
    let about = About::of(&args.about)?;
    let tank = match args.frequency {
        Some(_) => None,
        None => tank_of(args, about.own_tank())?,
    };
    let numbered = about.scenario.as_ref().map(|scenario| scenario.raster.timing.clock.hertz());
    let clock_hz = args.frequency.or(tank.map(|tank| tank.hertz())).or(numbered);
    let clock_hz = clock_hz.ok_or_else(|| {
        Failure::plain(
            "there is nothing to make a clock: give --coil and --capacitor, --frequency, or a \
             scenario"
                .to_owned(),
        )
    })?;
    let mut rates = about.rates(clock_hz);
    if let Some(scenario) = &about.scenario {
        let lines = &scenario.received.lock;
        rates = rates.beside(Windows::of(&scenario.receiver, about.counts, lines));
    }
    let reading = tank.map(|tank| tank::read(&tank, about.aim_hz(&args.goal)));
    let path = match tank.filter(|tank| tank.coil.range > 0.0 && !args.no_pictures) {
        Some(tank) => format!("\n{}\n", draw(args, &about, &tank)?.display()),
        None => String::new(),
    };
    if args.about.json {
        return print_json(|out| clock_json::write_rates(&rates, reading.as_ref(), out));
    }
    let title = about.scenario.map_or_else(String::new, |one| format!("{}\n\n", one.title));
    cli::print(&format!("{title}{}{path}", clock_table::rates_table(&rates, reading.as_ref())))
}

/// The scenario's tank with what is asked for put over it, or one of options alone.
fn tank_of(args: &TankArgs, own: Option<Tank>) -> Result<Option<Tank>, Failure> {
    let capacitor = series_of(&args.capacitor)?.or(own.map(|own| own.capacitor));
    let henries = args.coil.or(own.map(|own| own.coil.henries));
    let (henries, capacitor) = match (henries, capacitor) {
        (Some(henries), Some(capacitor)) => (henries, capacitor),
        (None, None) => {
            return match args.detail() {
                Some(option) => Err(Failure::plain(format!(
                    "there is no tank that --{option} could be of: give --coil and --capacitor, or \
                     a scenario with `[chip.clock]`"
                ))),
                None => Ok(None),
            };
        }
        (Some(_), None) => return Err(Failure::plain("a coil needs its --capacitor".to_owned())),
        (None, Some(_)) => return Err(Failure::plain("a capacitor needs its --coil".to_owned())),
    };
    const PPM: f64 = 1e-6;
    let bare = Coil { henries, range: USUAL_CORE_RANGE, core: 0.5, quality: None, per_kelvin: 0.0 };
    let below = own.unwrap_or(Tank {
        coil: bare,
        capacitor,
        stray_farads: USUAL_STRAY_FARADS,
        tap: None,
        celsius: STATED_CELSIUS,
        capacitor_per_kelvin: 0.0,
    });
    let drift = |given: Option<f64>, below: f64| given.map_or(below, |ppm| PPM * ppm);
    Ok(Some(Tank {
        coil: Coil {
            henries,
            range: args.core_range.unwrap_or(below.coil.range),
            core: args.core.unwrap_or(below.coil.core),
            quality: args.quality.or(below.coil.quality),
            per_kelvin: drift(args.coil_drift, below.coil.per_kelvin),
        },
        capacitor,
        stray_farads: args.stray.unwrap_or(below.stray_farads),
        tap: args.tap.zip(args.tap_stray).map(|(at, farads)| Tap { at, farads }).or(below.tap),
        celsius: args.temperature.unwrap_or(below.celsius),
        capacitor_per_kelvin: drift(args.capacitor_drift, below.capacitor_per_kelvin),
    }))
}

/// One capacitor, or two in series.
fn series_of(farads: &[f64]) -> Result<Option<TankCapacitor>, Failure> {
    match farads {
        [] => Ok(None),
        [one] => Ok(Some(TankCapacitor::One(*one))),
        [first, second] => Ok(Some(TankCapacitor::Split([*first, *second]))),
        more => Err(Failure::plain(format!(
            "{} capacitors: a tank has one, or two in series",
            more.len()
        ))),
    }
}

fn draw(args: &TankArgs, about: &About, tank: &Tank) -> Result<PathBuf, Failure> {
    let scenario = about.scenario.as_ref();
    let name = scenario.map_or("clock", |scenario| scenario.name.as_str());
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from("out").join(name));
    let view = ClockView {
        tank,
        set: args.goal.kind.name(),
        windows: &Windows::of_kind(args.goal.kind, about.standard, about.counts),
        clocks_per_line: about.counts.clocks_per_line,
        title: scenario.map_or("Clock against core", |scenario| scenario.title.as_str()),
    };
    let file = "clock.png";
    let mut bytes = Vec::new();
    clock_view::write(&view, &mut bytes).map_err(|error| Failure::world(file, &error))?;
    let mut files = OutputFolder::new(&folder)?;
    files.write(file, &bytes)?;
    let mut paths = files.finish()?;
    paths.pop().ok_or_else(|| Failure::plain(format!("{file} was not written")))
}

fn answer_coil(args: &CoilArgs) -> Result<(), Failure> {
    let about = About::of(&args.about)?;
    let own = about.own_tank().map(|tank| tank.capacitor);
    let capacitor = series_of(&args.capacitor)?.or(own).ok_or_else(|| {
        Failure::plain(
            "which capacitor is on the board? Give --capacitor, or a scenario with [chip.clock]"
                .to_owned(),
        )
    })?;
    let strays = (args.strays[0], args.strays[1]);
    if strays.0 > strays.1 {
        return Err(Failure::plain("--strays: the least come first".to_owned()));
    }
    let adjuster = match args.trimmer[..] {
        [least, most] if least < most => Adjuster::Trimmer(least, most),
        [_, _] => return Err(Failure::plain("--trimmer: the least comes first".to_owned())),
        _ if args.core_range > 0.0 => Adjuster::Core(args.core_range),
        _ => {
            let message = "nothing to turn: give a --core-range above 0, or a --trimmer";
            return Err(Failure::plain(message.to_owned()));
        }
    };
    let kind = args.goal.kind;
    let wanted = Wanted {
        farads: capacitor.farads(),
        strays,
        locks: Windows::of_kind(kind, about.standard, about.counts).locks(),
        aim_hz: about.aim_hz(&args.goal),
        series: args.series,
    };
    let choices = wanted.choices(adjuster);
    if args.about.json {
        return print_json(|out| clock_json::write_choices(&choices, out));
    }
    cli::print(&choice_table(&wanted, adjuster, &choices, kind.name()))
}

fn answer_tone(args: &ToneArgs) -> Result<(), Failure> {
    let about = About::of(&args.about)?;
    let given = [(Tone::Hit, args.hit), (Tone::Wall, args.wall), (Tone::Score, args.score)];
    let mut given = given.into_iter().filter_map(|(tone, pitch)| Some((tone, pitch?)));
    let (tone, pitch_hz) =
        given.next().ok_or_else(|| Failure::plain("which tone was heard?".to_owned()))?;
    let clocks = about.tones.period(tone.event());
    let burst_s = args.burst.unwrap_or(about.tones.burst_s(f64::from(clocks) * pitch_hz));
    let heard = Heard { tone, clocks, pitch_hz, burst_s, bursts: args.bursts };
    let rates = about.rates(heard.clock_hz().0);
    if args.about.json {
        return print_json(|out| clock_json::write_tone(&heard, &rates, out));
    }
    cli::print(&heard_table::tone_table(&heard, &rates))
}

fn answer_beat(args: &BeatArgs) -> Result<(), Failure> {
    let about = About::of(&args.about)?;
    if args.battery {
        if args.about.json {
            return print_json(|out| clock_json::write_beat(&[], out));
        }
        return cli::print(&heard_table::no_beat_words(about.mains_hz, about.counts));
    }
    let (period_s, mains_hz) = (args.period, about.mains_hz);
    let seen = Seen { period_s, mains_hz, turned: args.turned_in, way: args.way };
    let candidates =
        beat::candidates(&seen, about.counts).map_err(|error| Failure::plain(error.to_string()))?;
    if args.about.json {
        return print_json(|out| clock_json::write_beat(&candidates, out));
    }
    cli::print(&heard_table::beat_table(&seen, &candidates, about.counts))
}

fn print_json(write: impl FnOnce(&mut Vec<u8>) -> std::io::Result<()>) -> Result<(), Failure> {
    let mut json = Vec::new();
    write(&mut json).map_err(|error| Failure::world("standard output", &error))?;
    cli::print(&String::from_utf8_lossy(&json))
}

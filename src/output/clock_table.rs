//! The clock in words and tables.

use crate::analysis::clock::Counts;
use crate::analysis::clock::Rates;
use crate::analysis::clock::beat::Bar;
use crate::analysis::clock::beat::Way;
use crate::analysis::clock::lock::Verdict;
use crate::analysis::clock::lock::Window;
use crate::analysis::clock::lock::Windows;
use crate::analysis::clock::tank::MIDDLE;
use crate::analysis::clock::tank::PROBE_FARADS;
use crate::analysis::clock::tank::TankReading;
use crate::analysis::clock::tank::WARMING_KELVIN;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::signed;
use crate::output::table::wrapped;
use crate::scenario::set_library::Kind;
use crate::signal::tank::Tank;
use crate::signal::tank::TankCapacitor;

/// Longest time that anyone would wait for a bar, s.
const PATIENCE_S: f64 = 120.0;
/// A bar that comes round faster than this cannot be counted, s.
const TOO_FAST_S: f64 = 0.5;

/// A clock as it is usually written.
pub(crate) fn megahertz(hertz: f64) -> String {
    format!("{} MHz", number(hertz / 1e6, 4))
}

/// An inductance in a readable unit.
pub(crate) fn microhenries(henries: f64) -> String {
    let (value, unit) =
        if henries >= 1e-3 { (1e3 * henries, "mH") } else { (1e6 * henries, "µH") };
    let decimals = if value >= 100.0 { 1 } else { 2 };
    format!("{} {unit}", trimmed(value, decimals))
}

/// A capacitance in picofarads.
pub(crate) fn picofarads(farads: f64) -> String {
    format!("{} pF", trimmed(1e12 * farads, 1))
}

/// A share as a percentage with its sign.
pub(crate) fn percent(share: f64, decimals: usize) -> String {
    format!("{} %", signed(number(100.0 * share, decimals)))
}

/// A share of the travel.
pub(crate) fn travel(share: f64) -> String {
    format!("{} %", number(100.0 * share, 0))
}

/// Two clocks, or that no clock will do.
pub(crate) fn window(window: Window) -> String {
    if window.low_hz > window.high_hz {
        return "none".to_owned();
    }
    let [low, high] = [window.low_hz, window.high_hz].map(|hertz| number(hertz / 1e6, 3));
    format!("{low} to {high}")
}

/// What a tank is made of.
#[must_use]
pub fn tank_words(tank: &Tank) -> String {
    let coil = microhenries(tank.coil.henries);
    let coil = if tank.coil.range > 0.0 {
        let range = trimmed(100.0 * tank.coil.range, 1);
        format!("{coil} ± {range} %, core at {}", travel(tank.coil.core))
    } else {
        format!("fixed {coil}")
    };
    let across = match tank.capacitor {
        TankCapacitor::One(farads) => picofarads(farads),
        TankCapacitor::Split([first, second]) => {
            format!("{} and {} in series", picofarads(first), picofarads(second))
        }
    };
    let tap = tank.tap.map_or_else(String::new, |tap| {
        format!(", {} on a tap at {}", picofarads(tap.farads), travel(tap.at))
    });
    let warmth = trimmed(tank.celsius, 1);
    format!("{coil}; {across}, strays {}{tap}; {warmth} °C", picofarads(tank.stray_farads))
}

/// Everything that follows from a clock, and from the tank that makes it.
#[must_use]
pub fn rates_table(rates: &Rates, tank: Option<&TankReading>) -> String {
    let mut text = String::new();
    if let Some(tank) = tank {
        text += &format!("{}\n", tank_words(&tank.tank));
        let (henries, farads) = (microhenries(tank.henries), picofarads(tank.farads));
        text += &format!(
            "as it stands {henries} and {farads} in all; a board runs at its clock to the whole hertz\n\n"
        );
    }
    text += &format!("{}\n{}\n", facts(rates), sets(rates));
    text += &wrapped(&format!("tones: {}", tones(rates)));
    text += &wrapped(&bar_words(rates.bar, rates.mains_hz));
    if let Some(tank) = tank {
        text.push('\n');
        for sentence in tank_sentences(tank) {
            text += &wrapped(&sentence);
        }
        text += &cautions();
    }
    text
}

fn facts(rates: &Rates) -> String {
    let mut table =
        Table::new(vec![Column::left(""), Column::right("rate"), Column::left("against")]);
    let mut row = |cells: [String; 3]| table.push(cells.into());
    let Counts { clocks_per_line, lines_per_field } = rates.counts;
    row(["clock".into(), megahertz(rates.clock_hz), String::new()]);
    let [own, other] = rates.errors.map(|error| percent(error, 1));
    row([
        format!("line, {clocks_per_line} clocks"),
        format!("{} Hz", number(rates.line_hz, 0)),
        format!("{own} of 15 625 Hz, {other} of 15 734 Hz"),
    ]);
    row([
        format!("field, {lines_per_field} lines"),
        format!("{} Hz", number(rates.field_hz, 2)),
        format!("{} Hz of the mains", trimmed(rates.mains_hz, 2)),
    ]);
    table.text()
}

fn sets(rates: &Rates) -> String {
    let mut table = Table::new(vec![
        Column::left(&format!("a {}-line set", rates.standard.name())),
        Column::left("lines lock, MHz"),
        Column::left("stay locked"),
        Column::left("fields lock"),
        Column::left("so it"),
    ]);
    for (name, windows, verdict) in all_sets(rates) {
        table.push(vec![
            name.to_owned(),
            window(windows.catch.and(&windows.asks.unwrap_or(windows.catch))),
            window(windows.hold.and(&windows.asks.unwrap_or(windows.hold))),
            window(windows.field),
            verdict.words(),
        ]);
    }
    let says = |word: &str| all_sets(rates).any(|(_, _, verdict)| verdict.words().contains(word));
    let torn = says("torn");
    if torn {
        let bands = number(rates.bands, 1);
        table.prose(Some(&format!(
            "torn: about {bands} slanted bands in a field, if the set's line oscillator runs at its \
             own rate"
        )));
    }
    let off = percent(rates.line_hz / rates.standard.line_hz() - 1.0, 1);
    if says("shifted") {
        table.prose(Some(&format!(
            "shifted: the loop's standing error pushes the picture to one side; a line rate of {off} \
             changes its width by as much"
        )));
    }
    table.text() + &sources(rates.sets.iter().map(|(kind, _, _)| *kind))
}

/// The kinds of set, and the scenario's own.
fn all_sets(rates: &Rates) -> impl Iterator<Item = (&'static str, &Windows, &Verdict)> {
    let kinds = rates.sets.iter().map(|(kind, windows, verdict)| (kind.name(), windows, verdict));
    kinds.chain(rates.own.iter().map(|(windows, verdict)| ("the scenario's own", windows, verdict)))
}

/// Where each set's figures come from.
fn sources(kinds: impl Iterator<Item = Kind>) -> String {
    kinds
        .map(|kind| wrapped(&format!("{} ({}): {}", kind.name(), kind.words(), kind.source())))
        .collect()
}

fn tones(rates: &Rates) -> String {
    let words = rates.tones.iter().map(|pitch| {
        let name = pitch.tone.name();
        format!("{name} {} Hz (clock / {})", number(pitch.hertz, 0), pitch.clocks)
    });
    words.collect::<Vec<_>>().join(", ")
}

/// What a hum bar does.
#[must_use]
pub fn bar_words(bar: Bar, mains_hz: f64) -> String {
    let mains = trimmed(mains_hz, 2);
    match bar {
        Bar::Stands => format!(
            "hum bar on {mains} Hz mains: stands still; nothing beats, so that the eye cannot tell a \
             hum bar from a shade of the picture"
        ),
        Bar::Crawls { period_s, way } => {
            let way = match way {
                Way::Down => "down",
                Way::Up => "up",
            };
            let time = format!("{} s", number(period_s, if period_s < 1.0 { 2 } else { 1 }));
            let note = if period_s < TOO_FAST_S {
                ", too fast to count: it flickers"
            } else if period_s > PATIENCE_S {
                ", as good as standing: the mains stray by more"
            } else {
                ""
            };
            format!(
                "hum bar on {mains} Hz mains: comes round in {time}, going {way} the screen{note}; \
                 none on batteries"
            )
        }
    }
}

fn tank_sentences(tank: &TankReading) -> Vec<String> {
    let clock =
        |hertz: f64| format!("{} ({})", megahertz(hertz), percent(hertz / tank.clock_hz - 1.0, 2));
    let aim = megahertz(tank.aim_hz);
    let mut all = Vec::new();
    if let (Some(core), Some(reach)) = (tank.core_for_aim, tank.reach) {
        let place = travel(core);
        let where_to = if !(0.0..=1.0).contains(&core) {
            format!("{aim} is out of its reach")
        } else if (MIDDLE.0..=MIDDLE.1).contains(&core) {
            format!("{aim} is at {place} of its travel")
        } else {
            format!("{aim} is at {place} of its travel, near an end: another coil would be better")
        };
        all.push(format!(
            "core: {} MHz from all the way in to all the way out; {where_to} (straight-line core; a \
             real one is slower at both ends)",
            window(reach)
        ));
    } else {
        all.push(format!(
            "the coil is fixed: {aim} is {} away",
            percent(tank.aim_hz / tank.clock_hz - 1.0, 2)
        ));
    }
    let pull = percent(tank.per_picofarad, 2);
    all.push(format!("strays: {pull} for each picofarad more"));
    let [light, heavy] = [0, 1].map(|index| {
        format!("with {} {}", picofarads(PROBE_FARADS[index]), clock(tank.probed_hz[index]))
    });
    all.push(format!(
        "a probe across the tank: {light}, {heavy}: measure behind the oscillator, at a buffer or the \
         chip, not at the tank"
    ));
    let warmer = trimmed(WARMING_KELVIN, 0);
    let is_known = tank.tank.coil.per_kelvin != 0.0 || tank.tank.capacitor_per_kelvin != 0.0;
    all.push(if is_known {
        format!("{warmer} K warmer: {}", clock(tank.warm_hz))
    } else {
        format!(
            "{warmer} K warmer: not known, no drift is stated; 150, 300, 600 ppm/K of coil and \
             capacitors together make about −0.15, −0.30, −0.60 %"
        )
    });
    all
}

/// What to heed with a core; common practice, no source.
fn cautions() -> String {
    wrapped(
        "Turn the core with a plastic or wooden blade and set the last turn with the blade out: a \
         blade of brass, copper or aluminium in the core lowers the inductance, so that the clock is \
         too high while it is there; a steel one may raise it or lower it. Metal also cracks ferrite \
         (common practice, no source).",
    )
}

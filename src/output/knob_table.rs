//! The controller map for the terminal.

use crate::analysis::cause::farads;
use crate::analysis::cause::ohms;
use crate::analysis::knob::KnobMap;
use crate::analysis::knob::Restless;
use crate::analysis::knob::buy::Choice;
use crate::analysis::knob::buy::Cover;
use crate::analysis::knob::buy::Margins;
use crate::analysis::knob::buy::PAIRS;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::part_words::volts;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::raster::controller::ramp::Threshold;
use std::fmt::Write;

/// How many pairs of parts are listed.
const MOST_CHOICES: usize = 8;
/// Every how many places of the map there is a row.
const ROW: usize = 5;

/// The map, what the rotation is used for, what moves the paddle besides the hand, what to buy.
#[must_use]
pub fn knob_table(map: &KnobMap, own: &Choice, choices: &[Choice], margins: &Margins) -> String {
    let mut text = format!("{}\n\n", parts_words(map));
    text += &rows(map);
    text += &turn(map);
    text += &restless(map);
    text += &buying(own, choices, margins);
    text
}

/// "1 MΩ linear, 100 nF, 10 kΩ in series, threshold 1 V, supply 6.5 V".
pub(crate) fn parts_words(map: &KnobMap) -> String {
    let (track, ramp) = (&map.controller.track, &map.controller.ramp);
    let law = match track.middle {
        middle if (middle - 0.5).abs() < 1e-9 => "linear".to_owned(),
        middle => format!("with {} % of the track at half travel", trimmed(1e2 * middle, 1)),
    };
    let threshold = match ramp.threshold {
        Threshold::Volts(fixed) => volts(fixed),
        Threshold::Share(share) => format!("{} % of the supply", trimmed(1e2 * share, 1)),
    };
    let mut words = format!(
        "{} {law}{}, {}, {} in series, threshold {threshold}, supply {}",
        ohms(track.ohms),
        if track.reversed { ", lugs exchanged" } else { "" },
        farads(ramp.farads),
        ohms(ramp.series_ohms),
        volts(ramp.supply_v)
    );
    if ramp.lead_farads > 0.0 {
        words += &format!(", lead {}", farads(ramp.lead_farads));
    }
    if ramp.leak_ohms.is_finite() {
        words += &format!(", leak {}", ohms(ramp.leak_ohms));
    }
    words
}

/// "133.1", or a dash where no paddle is drawn.
fn line(line: Option<f64>) -> String {
    line.map_or("–".to_owned(), |line| number(line, 1))
}

fn rows(map: &KnobMap) -> String {
    let mut table = Table::new(vec![
        Column::right("knob"),
        Column::right("angle"),
        Column::right("track"),
        Column::right("line"),
        Column::right("wobble"),
        Column::left("paddle"),
    ]);
    let rotation = map.controller.track.rotation_deg;
    for point in map.points.iter().step_by(ROW) {
        let place = match point.line {
            None => "not drawn",
            Some(line) if line < map.wanted.start => "above the wanted lines",
            Some(line) if line > map.wanted.end => "below the wanted lines",
            Some(_) => "",
        };
        table.push(vec![
            number(point.knob, 2),
            format!("{}°", number(point.knob * rotation, 0)),
            ohms(point.track_ohms),
            line(point.line),
            point.wobble.map_or("–".to_owned(), |wobble| format!("±{}", number(wobble, 1))),
            place.to_owned(),
        ]);
    }
    table.text()
}

fn turn(map: &KnobMap) -> String {
    let turn = &map.turn;
    let degrees = |degrees: f64| number(degrees, 1);
    let mut text = format!(
        "\nWanted: first lines {} to {} of {} lines of {} µs.\nOf {}° of rotation {}° are wasted \
         at the top, {}° move the paddle where it is wanted, {}° are wasted at the\nbottom; {}° at \
         each end are dead.\n",
        trimmed(map.wanted.start, 1),
        trimmed(map.wanted.end, 1),
        map.timing.lines_per_field,
        trimmed(1e6 / map.timing.line_hz(), 2),
        trimmed(map.controller.track.rotation_deg, 1),
        degrees(turn.above_deg),
        degrees(turn.wanted_deg),
        degrees(turn.below_deg),
        degrees(turn.dead_deg)
    );
    let [top, middle, bottom] =
        turn.paddle_deg.map(|one| one.map_or("–".to_owned(), |one| format!("{}°", degrees(one))));
    let _ = writeln!(
        text,
        "A paddle's height ({} lines) takes {middle} in the middle, {top} at the top, {bottom} at \
         the bottom.",
        map.paddle_lines
    );
    let [lowest, less] = map.lowest.map(line);
    let _ = writeln!(
        text,
        "The lowest line is {lowest} (– is below the field); with a potentiometer 5 % smaller, \
         {less}."
    );
    text
}

fn restless(map: &KnobMap) -> String {
    let mut text = String::from("\nWhat moves it besides the hand\n");
    for (place, one) in ["half turn", "full turn"].iter().zip(&map.restless) {
        let Some(one) = one else {
            let _ = writeln!(text, "  {place}: the threshold is not passed in the field");
            continue;
        };
        text += &restless_row(map, place, one);
    }
    let supplies: Vec<String> = map
        .supplies
        .iter()
        .map(|(supply, found)| format!("{} from {}", line(*found), volts(*supply)))
        .collect();
    let droop = map.lines_per_volt_less.unwrap_or(f64::NAN);
    let droop = if droop.abs() < 0.05 {
        "no change with the supply".to_owned()
    } else {
        format!("{} lines down for a volt less", trimmed(droop, 1))
    };
    let _ = writeln!(text, "  supply: half turn is line {}: {droop}", supplies.join(", "));
    if let Some(lines) = map.other_lines {
        let _ = writeln!(
            text,
            "  the other knob, from stop to stop: {} lines at half turn",
            trimmed(lines, 2)
        );
    }
    text
}

fn restless_row(map: &KnobMap, place: &str, one: &Restless) -> String {
    let contact = &map.controller.contact;
    let mut text = format!(
        "  {place}: the ramp passes at {} V/s, {} mV a line; 1 % of the track is {} lines\n",
        number(one.slope, 0),
        number(1e3 * one.volts_per_line, 1),
        number(one.percent_lines, 1)
    );
    let _ = writeln!(
        text,
        "    standing noise of {} % of the track: {} lines (deviation)",
        trimmed(1e2 * contact.standing, 2),
        number(one.standing_lines, 2)
    );
    if map.controller.hum.volts > 0.0 {
        let _ = writeln!(
            text,
            "    hum of {} mV at {} Hz: ±{} lines, {} Hz beat",
            trimmed(1e3 * map.controller.hum.volts, 1),
            trimmed(map.controller.hum.hertz, 2),
            number(one.hum_lines, 1),
            trimmed((map.controller.hum.hertz - map.timing.field_hz()).abs(), 2)
        );
    }
    if contact.spikes > 0.0 {
        let _ = writeln!(
            text,
            "    spikes: {} each time the worn zone is crossed, {} lines in the mean",
            trimmed(contact.spikes, 2),
            number(one.spike_lines, 0)
        );
    }
    if contact.openings > 0.0 {
        let _ = writeln!(
            text,
            "    the contact opens {} times each time, and the paddle is gone for a field or two",
            trimmed(contact.openings, 2)
        );
    }
    text
}

/// A pair of parts in words of how surely it does.
pub(crate) fn cover_words(cover: Cover) -> &'static str {
    match cover {
        Cover::Always => "● always",
        Cover::Nominal => "◐ as printed",
        Cover::Short => "○ falls short",
    }
}

fn buying(own: &Choice, choices: &[Choice], margins: &Margins) -> String {
    let mut text = format!(
        "\nWhat to buy: E6 potentiometer (±{} %) of this law, E12 capacitor (±{} %)\n",
        trimmed(1e2 * margins.track, 1),
        trimmed(1e2 * margins.capacitor, 1)
    );
    let mut table = Table::new(vec![
        Column::right("potentiometer"),
        Column::right("capacitor"),
        Column::left("reaches"),
        Column::right("highest"),
        Column::right("lowest"),
        Column::right("wanted"),
        Column::right("a paddle"),
        Column::left(""),
    ]);
    let all = choices.iter().take(MOST_CHOICES).map(|choice| (choice, ""));
    for (choice, remark) in all.chain([(own, "(fitted now)")]) {
        table.push(vec![
            ohms(choice.track_ohms),
            farads(choice.farads),
            cover_words(choice.cover).to_owned(),
            line(choice.highest),
            line(choice.lowest),
            format!("{}°", number(choice.wanted_deg, 0)),
            choice.paddle_deg.map_or("–".to_owned(), |one| format!("{}°", number(one, 1))),
            remark.to_owned(),
        ]);
    }
    text += &table.text();
    if choices.is_empty() {
        text += "Nothing reaches the wanted lines: look at series resistor and threshold.\n";
    }
    let _ = writeln!(
        text,
        "Highest with large specimens, lowest with small ones (– is below the field); wanted: \
         degrees that the wanted\nlines take; {} of {} pairs reach them.",
        choices.len(),
        PAIRS
    );
    text
}

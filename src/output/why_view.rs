//! The pulse of one element at every node of its way, one above another.

use crate::analysis::why::Pulse;
use crate::analysis::why::Why;
use crate::analysis::why::edges::Edge;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::panel::Panel;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use std::io::Write;

const WIDTH: u32 = 1400;
const LEFT: f64 = 120.0;
/// End of the curves; words stand to their right.
const RIGHT: f64 = 860.0;
const EDGE: f64 = 1370.0;
const TOP: f64 = 96.0;
/// One node, and the gap to the next.
const ROW: f64 = 150.0;
const GAP: f64 = 22.0;
const BELOW: f64 = 66.0;
const TEXT: f64 = 13.0;

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(why: &Why, title: &str, out: &mut impl Write) -> Result<(), PlotError> {
    draw(why, title).write_png(out)
}

/// Draws the view; with no pulses it is a heading and a sentence.
#[must_use]
pub fn draw(why: &Why, title: &str) -> Plot {
    let rows = u32::try_from(why.pulses.len()).unwrap_or(0);
    let height = TOP + f64::from(rows.max(1)) * (ROW + GAP) + BELOW;
    let mut plot = Plot::new(WIDTH, math::floor_u32(height));
    let heading = font::fitted(title, 20.0, EDGE - LEFT);
    plot.text((LEFT, 34.0), &heading, Style::new(20.0, ink::BLACK));
    let below = format!(
        "{} from the chip's pin to the socket: {}, {} mV against black",
        why.element.to_uppercase(),
        why.word(why.seen),
        number(1e3 * why.delta_v, 0)
    );
    plot.text((LEFT, 62.0), &below, Style::new(14.0, ink::GREY));
    let Some(first) = why.pulses.first() else {
        let words = "It is nowhere alone in this field.";
        plot.text((LEFT, TOP + 20.0), words, Style::new(14.0, ink::BLACK));
        return plot;
    };
    let time = time_scale(first);
    let bottom = TOP + f64::from(rows) * (ROW + GAP) - GAP;
    draw_band(&mut plot, &time, first.width_s, bottom);
    let mut top = TOP;
    for (index, pulse) in why.pulses.iter().enumerate() {
        // The ledger begins with the open pin.
        let words = why.steps.get(index + 1).map_or("", |step| step.words.as_str());
        let last = index + 1 == why.pulses.len();
        draw_pulse(&mut plot, pulse, (top, words), &time, last);
        top += ROW + GAP;
    }
    let ticks = Ticks::within(&time.values, 16);
    let begins = if why.is_sync { "begins the pulse" } else { "lights it" };
    let title = &format!("time after the chip {begins}, µs");
    Axis { side: Side::Bottom, line: bottom, scale: &time, ticks: &ticks, title }.draw(&mut plot);
    plot
}

fn time_scale(pulse: &Pulse) -> Scale {
    let length_s = math::from_usize(pulse.volts.len()) * pulse.step_s;
    Scale { values: 1e6 * pulse.start_s..1e6 * (pulse.start_s + length_s), pixels: LEFT..RIGHT }
}

/// When the chip lights the element.
fn draw_band(plot: &mut Plot, time: &Scale, width_s: f64, bottom: f64) {
    let area = Area { left: time.at(0.0), top: TOP, right: time.at(1e6 * width_s), bottom };
    plot.area(area, ink::BAND);
}

fn draw_pulse(plot: &mut Plot, pulse: &Pulse, place: (f64, &str), time: &Scale, last: bool) {
    let (top, words) = place;
    let area = Area { left: LEFT, top, right: RIGHT, bottom: top + ROW };
    let volts = || pulse.volts.iter().map(|&v| f64::from(v));
    let panel = Panel::new(area, RIGHT, volts());
    panel.draw_frame(plot, "V");
    let at = |index: usize| 1e6 * (pulse.start_s + math::from_usize(index) * pulse.step_s);
    let points: Vec<(f64, f64)> = volts()
        .enumerate()
        .map(|(index, volts)| (time.at(at(index)), panel.volts.at(volts)))
        .collect();
    // The socket is the signal; what leads there is grey.
    let ink = if last { ink::ACCENT } else { ink::BLACK };
    plot.path(&points, Pen::new(ink, 1.6));
    for edge in [(0.0, &pulse.lead), (pulse.width_s, &pulse.trail)] {
        if let (start_s, Some(edge)) = edge {
            let x = sharp(time.at(1e6 * (start_s + edge.delay_s)));
            plot.line((x, area.top), (x, area.bottom), Pen::new(ink::PALE, 1.0).dashed("2 3"));
        }
    }
    draw_words(plot, pulse, words, top);
}

fn draw_words(plot: &mut Plot, pulse: &Pulse, words: &str, top: f64) {
    let left = RIGHT + 24.0;
    let name = font::fitted(&format!("at {}", pulse.node), 15.0, EDGE - left);
    plot.text((left, top + 18.0), &name, Style::new(15.0, ink::BLACK));
    let mut line = top + 40.0;
    for text in broken(words, EDGE - left).into_iter().take(3) {
        plot.text((left, line), &text, Style::new(TEXT, ink::GREY).by(Anchor::Start));
        line += 18.0;
    }
    let edge = |name: &str, edge: &Option<Edge>| match edge {
        Some(edge) => format!(
            "{name}: half after {} ns, 10–90 % in {} ns",
            number(1e9 * edge.delay_s, 0),
            number(1e9 * edge.time_s, 0)
        ),
        None => format!("{name}: no edge"),
    };
    for text in [edge("on", &pulse.lead), edge("off", &pulse.trail)] {
        plot.text((left, line), &text, Style::new(TEXT, ink::BLACK));
        line += 18.0;
    }
}

/// Words in lines of at most so many pixels.
fn broken(words: &str, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if font::width(&format!("{line} {word}"), TEXT) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

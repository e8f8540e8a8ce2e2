//! Load lines: what a measured pin delivers at every voltage, and what the planned load takes.

use crate::analysis::pin::Better;
use crate::analysis::pin::Measurement;
use crate::analysis::pin::Model;
use crate::analysis::pin::PinModel;
use crate::analysis::pin::StateModel;
use crate::analysis::pin::reading::Inputs;
use crate::analysis::pin::reading::Load;
use crate::analysis::pin::reading::State;
use crate::base::math;
use crate::network::circuit::PinStage;
use crate::network::stage::Stage;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::pin_table::COVERAGE;
use crate::output::pin_table::better_words;
use crate::output::pin_table::current_words;
use crate::output::pin_table::load_words;
use crate::output::pin_table::model_words;
use crate::output::plot::Area;
use crate::output::plot::Fullness;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use std::io::Write;

const WIDTH: u32 = 1520;
const LEFT: f64 = 110.0;
/// End of the curves; words stand to their right.
const RIGHT: f64 = 860.0;
const EDGE: f64 = 1500.0;
const TOP: f64 = 84.0;
/// A state's plot, and what is below it.
const HEIGHT: f64 = 400.0;
const BELOW: f64 = 116.0;
const TEXT: f64 = 14.0;

const PIN: Pen = Pen::new(ink::ACCENT, 2.2);
const OTHER: Pen = Pen::new(ink::GREY, 1.4).dashed("7 4");
const LOAD: Pen = Pen::new(ink::BLACK, 1.6);

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(
    measurement: &Measurement,
    model: &PinModel,
    name: &str,
    out: &mut impl Write,
) -> Result<(), PlotError> {
    draw(measurement, model, name).write_png(out)
}

/// Draws the view: one plot for each state that was measured.
#[must_use]
pub fn draw(measurement: &Measurement, model: &PinModel, name: &str) -> Plot {
    let states =
        [(State::High, &measurement.high, &model.high), (State::Low, &measurement.low, &model.low)];
    let measured: Vec<_> = states
        .into_iter()
        .filter_map(|(state, inputs, model)| Some((state, inputs.as_ref()?, model.as_ref()?)))
        .collect();
    let height = TOP + math::from_usize(measured.len()) * (HEIGHT + BELOW);
    let mut plot = Plot::new(WIDTH, math::floor_u32(height));
    let title = font::fitted(&format!("Load line of pin {name}"), 22.0, EDGE - LEFT);
    plot.text((LEFT, 34.0), &title, Style::new(22.0, ink::BLACK));
    for (index, (state, inputs, model)) in measured.into_iter().enumerate() {
        let top = TOP + math::from_usize(index) * (HEIGHT + BELOW);
        let view = StateView { state, inputs, model, planned: measurement.planned };
        view.draw(&mut plot, top);
    }
    plot
}

struct StateView<'a> {
    state: State,
    inputs: &'a Inputs,
    model: &'a StateModel,
    planned: Option<Load>,
}

impl StateView<'_> {
    /// Current that the drawing counts as positive: out of a high pin, into a low one.
    fn milliamps(&self, stage: &PinStage, volts: f64) -> f64 {
        let into = 1e3 * Stage::Pin(*stage).load(volts, self.inputs.supply_v).amps;
        if self.state == State::High { -into } else { into }
    }

    fn load_milliamps(&self, load: Load, volts: f64) -> f64 {
        let out = 1e3 * (volts - load.rail_v) / load.ohms;
        if self.state == State::High { out } else { -out }
    }

    /// Volts across and milliamps up: all readings, and the pin from no current to its most.
    fn scales(&self, top: f64) -> (Scale, Scale) {
        let loads = self.inputs.readings.iter().filter_map(|reading| reading.load);
        let rails = loads.chain(self.planned).map(|load| load.rail_v);
        let volts = rails.fold(self.inputs.supply_v, f64::max);
        let stage = &self.model.chosen().stage;
        let read = self
            .inputs
            .readings
            .iter()
            .filter_map(|reading| Some(self.load_milliamps(reading.load?, reading.volts)));
        let planned = self.model.chosen().crossing.map(|crossing| 1e3 * crossing[1].value.abs());
        let most = match self.state {
            State::High => self.milliamps(stage, 0.0),
            State::Low => 0.0,
        };
        let most = read.chain(planned).map(|milliamps| 1.3 * milliamps).fold(most, f64::max);
        let pixels = sharp(top + HEIGHT)..sharp(top);
        let across = Scale { values: 0.0..1.02 * volts, pixels: LEFT..RIGHT };
        (across, Scale { values: 0.0..1.05 * most.max(1e-3), pixels })
    }

    fn draw(&self, plot: &mut Plot, top: f64) {
        let (volts, milliamps) = self.scales(top);
        let bottom = top + HEIGHT;
        let heading = match self.state {
            State::High => "High: current out of the pin",
            State::Low => "Low: current into the pin",
        };
        plot.text((LEFT, top - 18.0), heading, Style::new(15.0, ink::BLACK));
        let ticks = [Ticks::within(&volts.values, 14), Ticks::within(&milliamps.values, 8)];
        for &value in &ticks[1].values {
            let y = sharp(milliamps.at(value));
            plot.line((LEFT, y), (RIGHT, y), Pen::new(ink::FAINT, 1.0));
        }
        let area = Area { left: sharp(LEFT), top: sharp(top), right: RIGHT, bottom };
        plot.outline(area, Pen::new(ink::PALE, 1.0));
        let title = "volts at the pin, V";
        Axis { side: Side::Bottom, line: bottom, scale: &volts, ticks: &ticks[0], title }
            .draw(plot);
        let (scale, ticks, title) = (&milliamps, &ticks[1], "mA");
        Axis { side: Side::Left, line: LEFT, scale, ticks, title }.draw(plot);
        self.draw_curves(plot, &volts, &milliamps);
        self.draw_words(plot, top);
    }

    fn draw_curves(&self, plot: &mut Plot, volts: &Scale, milliamps: &Scale) {
        let curve = |of: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
            let at = |step: u32| volts.values.end * f64::from(step) / 400.0;
            let inside = |v: &f64| (0.0..=milliamps.values.end).contains(&of(*v));
            (0..=400).map(at).filter(inside).map(|v| (volts.at(v), milliamps.at(of(v)))).collect()
        };
        if let Some(other) = self.other() {
            plot.path(&curve(&|v| self.milliamps(&other.stage, v)), OTHER);
        }
        if let Some(load) = self.planned {
            plot.path(&curve(&|v| self.load_milliamps(load, v)), LOAD);
        }
        plot.path(&curve(&|v| self.milliamps(&self.model.chosen().stage, v)), PIN);
        for reading in &self.inputs.readings {
            let drawn = reading.load.map_or(0.0, |load| self.load_milliamps(load, reading.volts));
            plot.mark((volts.at(reading.volts), milliamps.at(drawn)), Fullness::Full);
        }
        if let (Some([at, amps]), Some(_)) = (self.model.chosen().crossing, self.planned) {
            let place = (volts.at(at.value), milliamps.at(1e3 * amps.value.abs()));
            plot.mark(place, Fullness::Empty);
            let words = format!("{} V", number(at.value, 2));
            // A low pin's curve climbs to the right of the mark, a high one's falls.
            let aside = if self.state == State::High { 14.0 } else { 64.0 };
            let (left, middle) = (place.0 + aside, place.1 - 20.0);
            let right = left + font::width(&words, TEXT);
            // The curves would run through it.
            let (top, bottom) = (middle - 10.0, middle + 10.0);
            plot.area(Area { left: left - 3.0, top, right: right + 3.0, bottom }, ink::WHITE);
            plot.text((left, middle), &words, Style::new(TEXT, ink::BLACK));
        }
    }

    /// The model that is not gone on with.
    fn other(&self) -> Option<&Model> {
        match self.model.better {
            Better::Square => Some(&self.model.linear),
            _ => self.model.square.as_ref(),
        }
    }

    /// What is what, in the column beside the curves.
    fn draw_words(&self, plot: &mut Plot, top: f64) {
        let left = RIGHT + 70.0;
        let mut y = top + 16.0;
        let name = |model: &Model| match model.stage {
            PinStage::Linear { .. } => "linear",
            _ => "square law",
        };
        let chosen = self.model.chosen();
        let line = |plot: &mut Plot, y: f64, pen| {
            plot.line((RIGHT + 22.0, sharp(y)), (left - 10.0, sharp(y)), pen);
        };
        let say = |plot: &mut Plot, y: &mut f64, words: &str, ink| {
            for words in broken(words, EDGE - left) {
                plot.text((left, *y), &words, Style::new(TEXT, ink));
                *y += 20.0;
            }
        };
        line(plot, y, PIN);
        let words = format!("the pin, {}: {}", name(chosen), model_words(chosen));
        say(plot, &mut y, &words, ink::ACCENT);
        if let Some(other) = self.other() {
            y += 8.0;
            line(plot, y, OTHER);
            say(plot, &mut y, &format!("{}: {}", name(other), model_words(other)), ink::GREY);
        }
        y += 8.0;
        plot.mark((f64::midpoint(RIGHT + 22.0, left - 10.0), y), Fullness::Full);
        say(plot, &mut y, "read", ink::BLACK);
        if let (Some(load), Some(crossing)) = (self.planned, chosen.crossing) {
            y += 8.0;
            line(plot, y, LOAD);
            say(plot, &mut y, &format!("planned load, {}", load_words(load)), ink::BLACK);
            y += 8.0;
            plot.mark((f64::midpoint(RIGHT + 22.0, left - 10.0), y), Fullness::Empty);
            let [at, amps] = crossing;
            let doubt = number(COVERAGE * at.deviation, 3);
            let words = format!(
                "where they cross: {} ± {doubt} V, {}",
                number(at.value, 3),
                current_words(amps)
            );
            say(plot, &mut y, &words, ink::BLACK);
        }
        y += 12.0;
        say(plot, &mut y, &better_words(self.model), ink::GREY);
    }
}

/// Words in lines of at most so many pixels.
fn broken(words: &str, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in words.split(' ') {
        let Some(line) = lines.last_mut() else { continue };
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if font::width(&longer, TEXT) <= room {
            *line = longer;
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::pin::measure;
    use crate::analysis::pin::reading::Doubts;
    use crate::analysis::pin::reading::Reading;

    #[test]
    fn no_text_lies_on_another_and_both_states_are_drawn() {
        let load = |ohms, rail_v| Some(Load { ohms, rail_v });
        let reading = |volts, load| Reading { volts, load };
        let inputs =
            |readings: [Reading; 3]| Some(Inputs { supply_v: 6.5, readings: readings.into() });
        let measurement = Measurement {
            high: inputs([
                reading(5.3, None),
                reading(4.03, load(1e4, 0.0)),
                reading(2.28, load(1e3, 0.0)),
            ]),
            low: inputs([
                reading(0.0, None),
                reading(0.73, load(4700.0, 5.0)),
                reading(2.2, load(1e3, 5.0)),
            ]),
            doubts: Doubts { share: 0.005, figure_v: 0.01, tolerance: 0.01, meter_ohms: 1e7 },
            planned: load(4700.0, 0.0),
        };
        let plot = draw(&measurement, &measure(&measurement).unwrap(), "left");
        let texts = plot.texts();
        assert!(texts.len() > 30, "{}", texts.len());
        for a in 0..texts.len() {
            assert!((0..a).all(|b| !texts[a].overlaps(&texts[b])), "{:?}", texts[a]);
        }
    }
}

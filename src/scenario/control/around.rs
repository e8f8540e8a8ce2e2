//! The controls of what is around the board: the chip, the game, the socket, the set, the room.

use crate::base::math;
use crate::base::preferred::Series;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::TEMPERATURE;
use crate::document::quantity::Zero;
use crate::document::quantity::read;
use crate::profile::pins::STRENGTHS;
use crate::raster::plan::Content;
use crate::raster::plan::GameState;
use crate::scenario::Scenario;
use crate::scenario::control::Control;
use crate::scenario::control::ControlKind;
use crate::scenario::control::Entries;
use crate::scenario::control::Group;
use crate::scenario::control::Step;
use crate::scenario::control::steps;
use crate::scenario::control::steps::even;
use crate::scenario::control::steps::series;
use crate::scenario::receiver::kind_words;

/// Numbers of either sign up to 1, and whole ones.
const TURNED: Quantity = Quantity { low: -1.0, high: 1.0, zero: Zero::Possible, ..FACTOR };
const COUNT: Quantity = FACTOR.or_zero();
/// Loads that a socket meets: a set, two sets, one at twice its resistance, a high one, nothing.
const LOADS: [&str; 5] = ["75", "37.5", "150", "1k", "open"];

/// A group for each table that can be turned.
pub(super) fn groups(scenario: &Scenario, written: Entries<'_>) -> Vec<Group> {
    let all = [
        ("chip", chip(scenario, written)),
        ("game", game(scenario, written)),
        ("socket", socket(scenario, written)),
        ("set", set(written)),
        ("room", room(written)),
    ];
    all.into_iter()
        .filter(|(_, controls)| !controls.is_empty())
        .map(|(name, controls)| Group { name: name.to_owned(), part: None, controls })
        .collect()
}

fn shares() -> (Vec<Step>, Quantity) {
    (even(0.0, 1.0, 0.01), SHARE)
}

fn chip(scenario: &Scenario, written: Entries<'_>) -> Vec<Control> {
    let mut controls = Vec::new();
    if !scenario.specimens.is_empty() {
        let words = STRENGTHS.map(|(word, _)| word);
        controls.push(written.worded("chip.strength".into(), "strength", words, "typical"));
    }
    if scenario.tank.is_none() {
        controls.push(clock(scenario, written));
        return controls;
    }
    controls.push(written.stepped("chip.clock.core".into(), "core of the coil", shares(), "0.5"));
    let parts = [
        ("chip.clock.coil", "coil", INDUCTANCE),
        ("chip.clock.capacitor", "capacitor", CAPACITANCE),
    ];
    for (path, label, quantity) in parts {
        let value = written.text(path).and_then(|text| read(text, &quantity).ok());
        if let Some(value) = value {
            let steps = series(Series::E12, value / 3.0, value * 3.0, &quantity);
            controls.push(written.stepped(path.into(), label, (steps, quantity), ""));
        }
    }
    controls
}

/// The clock as a frequency, a tenth to either side in steps of a thousandth.
fn clock(scenario: &Scenario, written: Entries<'_>) -> Control {
    let hertz = scenario.raster.timing.clock.hertz();
    let shares = even(0.9, 1.1, 0.001);
    let steps = shares.iter().map(|share| {
        let number = math::round(hertz * share.number / 100.0) * 100.0;
        Step { text: format!("{number} Hz"), number }
    });
    let own = format!("{} Hz", math::round(hertz));
    written.stepped("chip.clock".into(), "clock", (steps.collect(), FREQUENCY), &own)
}

fn game(scenario: &Scenario, written: Entries<'_>) -> Vec<Control> {
    let Content::Game(_, state) = &scenario.raster.content else { return Vec::new() };
    let mut controls = Vec::new();
    for (player, [plain, knob], label) in [
        (0, ["game.left", "controllers.left.knob"], "left paddle"),
        (1, ["game.right", "controllers.right.knob"], "right paddle"),
    ] {
        let path = if has_controller(state, player) { knob } else { plain };
        let own = if path == knob { written.text("controller.knob") } else { None };
        controls.push(written.stepped(path.into(), label, shares(), own.unwrap_or("0.5")));
    }
    let (steps, quantity) = shares();
    let ball = ["ball across", "ball down"];
    controls.push(pair(written, "game.ball", (ball, "[0.5, 0.5]"), (steps, quantity)));
    let score = ["left score", "right score"];
    let steps = even(0.0, 15.0, 1.0);
    controls.push(pair(written, "game.score", (score, "[0, 0]"), (steps, COUNT)));
    controls
}

fn has_controller(state: &GameState, player: usize) -> bool {
    let controllers = state.controllers.as_ref();
    controllers.is_some_and(|controllers| controllers.sides[player].is_some())
}

fn pair(
    written: Entries<'_>,
    path: &str,
    (labels, default): ([&'static str; 2], &str),
    (mut row, quantity): (Vec<Step>, Quantity),
) -> Control {
    let text = written.text_or(path, default);
    for one in text.trim_start_matches('[').trim_end_matches(']').split(',') {
        row = steps::with(row, one.trim(), &quantity);
    }
    let kind = ControlKind::Pair { labels, steps: row, quantity };
    let is_written = written.text(path).is_some();
    Control { path: path.to_owned(), label: labels[0], text, is_written, kind }
}

fn socket(scenario: &Scenario, written: Entries<'_>) -> Vec<Control> {
    if scenario.modulator.is_none() {
        return vec![written.worded("output.load".into(), "load", LOADS, "75")];
    }
    let feed = written.text("modulator.feed").and_then(|text| read(text, &RESISTANCE).ok());
    let Some(feed) = feed else { return Vec::new() };
    let steps = series(Series::E24, feed / 30.0, feed * 30.0, &RESISTANCE);
    vec![written.stepped("modulator.feed".into(), "feed resistor", (steps, RESISTANCE), "")]
}

fn set(written: Entries<'_>) -> Vec<Control> {
    let [tube_set, ..] = kind_words();
    // A set whose hold knobs the file states has to be one that has them.
    let knobs = ["receiver.hold", "receiver.field_hold"];
    let is_held = knobs.iter().any(|path| written.text(path).is_some());
    let kinds = kind_words().into_iter().filter(|word| !is_held || *word == tube_set);
    let kind = written.worded("receiver.kind".into(), "kind", kinds, tube_set);
    let has_knobs = kind.text == tube_set;
    let mut controls = vec![kind];
    if has_knobs {
        for (path, label) in [("receiver.hold", "line hold"), ("receiver.field_hold", "field hold")]
        {
            let steps = even(-1.0, 1.0, 0.02);
            controls.push(written.stepped(path.into(), label, (steps, TURNED), "0"));
        }
    }
    let contrast = (even(0.5, 2.0, 0.05), FACTOR);
    controls.push(written.stepped("receiver.contrast".into(), "contrast", contrast, "1"));
    let brightness = (even(-0.3, 0.3, 0.01), TURNED);
    controls.push(written.stepped("receiver.brightness".into(), "brightness", brightness, "0"));
    controls
}

fn room(written: Entries<'_>) -> Vec<Control> {
    let steps = (even(0.0, 60.0, 1.0), TEMPERATURE);
    vec![written.stepped("wiring.temperature".into(), "temperature in °C", steps, "26.85")]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_has_two_places_and_keeps_what_is_in_the_file() {
        let one = pair(Entries(&[]), "game.ball", (["a", "b"], "[0.5, 0.405]"), shares());
        let places = one.places("[0.25, 0.405]");
        let ControlKind::Pair { steps, .. } = &one.kind else { panic!("a pair") };
        assert_eq!(
            places.iter().map(|&at| steps[at].text.as_str()).collect::<Vec<_>>(),
            ["0.25", "0.405"]
        );
        assert!(one.places("nothing").is_empty());
    }
}

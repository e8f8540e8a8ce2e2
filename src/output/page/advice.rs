//! What has to be said on every page: cautions, and how to undo what was done.

use crate::network::circuit::PartKind;
use crate::output::page::html::Html;
use crate::output::part_words::ties;
use crate::scenario::Scenario;

/// The trade's customary cautions; common practice, no source.
pub const CAUTIONS: [&str; 8] = [
    "Work on the game only, never inside a television: a picture tube holds a lethal charge for \
     days, and many old sets have a live chassis, so no video input is fitted to one.",
    "Unplug the adapter and take the cells out before soldering.",
    "Old adapters may be unregulated, up to 1.6 times their rated voltage without load, and may \
     have the centre negative: measure first. Leave the mains side shut.",
    "Leaked cells: gloves and glasses, weak acid, then water, and let it dry.",
    "Solder with the window open, keep out of the fumes of flux and cleaner, and wash your hands.",
    "The chip is a MOS part and cannot be bought again: earth yourself and the iron, and put it in \
     a socket.",
    "Look for shorts before power, and give a rebuilt board its first power from a supply limited \
     to 100 mA.",
    "Do not run the modulator with its can open: radiating is not allowed in most places.",
];

/// Who decides where it is dangerous, and what the figures rest on.
pub const WHO_DECIDES: &str = "Where the mains or a television's inside is concerned, local codes \
     and licensed people decide, not this page. Its figures rest on a model of the chip's pins.";

/// The cautions, and who decides.
pub(super) fn cautions(html: &mut Html) {
    html.list(CAUTIONS);
    html.paragraph(WHO_DECIDES);
}

/// How a modification can be undone, then what each part is tied to.
pub(super) fn putting_back(scenario: &Scenario, html: &mut Html) {
    html.paragraph(
        "This page knows the board as it is described, not what it was before: write down what you \
         take off as you take it off.",
    );
    html.list([
        "Take photographs of both sides before the first joint is opened, and after every step.",
        "Label each wire with the node it came from, and each part taken off with its place.",
        "Unsolder a lead or a link rather than cut a track; where a track has to be cut, do it where \
         a drop of solder closes it again, and mark it in the photograph.",
        "Keep the modulator, its can, its lead and its screws with the set.",
        "Use the pads and holes that are there; drill nothing that the case does not have already.",
        "To go back, take off the ends below one part after another, put the labelled parts in their \
         places, and compare with the first photographs before power.",
    ]);
    html.element("h3", &[], "What is tied where");
    let circuit = &scenario.circuit;
    let written = circuit.parts.iter().zip(&scenario.part_spans);
    let ends: Vec<String> = written
        .filter(|(part, span)| span.is_some() && !matches!(part.kind, PartKind::Pin(_)))
        .map(|(part, _)| format!("{}: {}", part.name, ties(circuit, &part.kind)))
        .collect();
    html.list(ends.iter().map(String::as_str));
}

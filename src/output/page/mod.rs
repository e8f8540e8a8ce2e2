//! `report.html`: all that a render found, on one page that needs nothing beside it.
//!
//! Pictures, style and font are carried in the page; it has no script and points nowhere. Its words
//! and tables are those of the terminal. It is well-formed XML as well as HTML, so that any program
//! can read it.

pub mod advice;
mod board;
pub(super) mod html;
mod levels;

use crate::analysis::ladder::Ladder;
use crate::analysis::modulation::Modulation;
use crate::analysis::node_levels::NodeLevels;
use crate::analysis::rating::Rating;
use crate::analysis::reading::FieldReading;
use crate::output::font;
use crate::output::page::html::Html;
use crate::receiver::spec::Reception;
use crate::scenario::Scenario;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::io::Write;

pub(super) const STYLE: &str = include_str!("style.css");

/// What the page is made from.
#[derive(Clone, Copy, Debug)]
pub struct PageParts<'a> {
    /// The board.
    pub scenario: &'a Scenario,
    /// What the field amounts to.
    pub reading: &'a FieldReading,
    /// What the set made of it.
    pub reception: &'a Reception,
    /// Level from which IRE are counted, V.
    pub blanking_v: f64,
    /// A modulator's carrier, if there is one.
    pub modulation: Option<&'a Modulation>,
    /// The ladder, or in a sentence why there is none.
    pub ladder: Result<&'a Ladder, &'a str>,
    /// What each part is worked to.
    pub ratings: &'a [Rating],
    /// What every node stands at.
    pub levels: &'a NodeLevels,
    /// What the user should know, in sentences.
    pub warnings: &'a [String],
    /// The pictures of the first field.
    pub pictures: Pictures<'a>,
}

/// Pictures as whole PNG files.
#[derive(Clone, Copy, Debug)]
pub struct Pictures<'a> {
    /// What the screen shows.
    pub frame: &'a [u8],
    /// One line.
    pub line: &'a [u8],
    /// The whole field.
    pub field: &'a [u8],
    /// A modulator's carrier, if there is one.
    pub carrier: Option<&'a [u8]>,
}

/// Sections in their order: the name within the page, and the heading.
pub const SECTIONS: [(&str, &str); 9] = [
    ("pictures", "Pictures"),
    ("verdicts", "What is seen, and why"),
    ("ladder", "Ladder of levels"),
    ("ratings", "Ratings"),
    ("circuit", "The circuit"),
    ("parts", "Parts list"),
    ("pins", "The pin model used"),
    ("cautions", "Cautions"),
    ("back", "How to put it back"),
];

/// Writes the page.
///
/// # Errors
///
/// If `out` fails.
pub fn write_page(parts: &PageParts<'_>, out: &mut impl Write) -> std::io::Result<()> {
    let mut html = Html::default();
    html.ready_made("<!DOCTYPE html>\n");
    html.with("html", &[("lang", "en")], |html| {
        html.with("head", &[], |html| head(parts, html));
        html.with("body", &[], |html| body(parts, html));
    });
    out.write_all(html.into_text().as_bytes())
}

fn head(parts: &PageParts<'_>, html: &mut Html) {
    html.empty("meta", &[("charset", "utf-8")]);
    let width = "width=device-width, initial-scale=1";
    html.empty("meta", &[("name", "viewport"), ("content", width)]);
    html.element("title", &[], &parts.scenario.title);
    // The style has none of the signs that HTML and XML read differently.
    html.with("style", &[], |html| {
        html.ready_made(&font_face());
        html.ready_made(STYLE);
    });
}

/// The font of the drawing, whose texts were measured with it.
fn font_face() -> String {
    let (family, bytes) = (font::FAMILY, STANDARD.encode(font::BYTES));
    format!("@font-face {{ font-family: {family}; src: url(data:font/ttf;base64,{bytes}); }}\n")
}

fn body(parts: &PageParts<'_>, html: &mut Html) {
    html.element("h1", &[], &parts.scenario.title);
    let about = format!(
        "What a television would show of the board `{}`, worked out by Backporch. The chip's pins \
         are taken from a model, see below: measure before trusting.",
        parts.scenario.name
    );
    html.paragraph(&about);
    html.with("nav", &[], |html| {
        html.with("ul", &[], |html| {
            for (id, heading) in SECTIONS {
                let place = format!("#{id}");
                html.with("li", &[], |html| html.element("a", &[("href", &place)], heading));
            }
        });
    });
    for (id, heading) in SECTIONS {
        html.section(id, heading, |html| match id {
            "pictures" => pictures(&parts.pictures, html),
            "verdicts" => levels::verdicts(parts, html),
            "ladder" => levels::ladder(parts, html),
            "ratings" => levels::ratings(parts.ratings, html),
            "circuit" => board::circuit(parts, html),
            "parts" => board::parts(parts, html),
            "pins" => board::pins(parts, html),
            "cautions" => advice::cautions(html),
            _ => advice::putting_back(parts.scenario, html),
        });
    }
}

fn pictures(pictures: &Pictures<'_>, html: &mut Html) {
    html.picture(pictures.frame, "The picture, as the set's own lines and fields scan it");
    html.picture(pictures.line, "One line: the chip's pins, and the waveform at the socket");
    html.picture(pictures.field, "The whole field at the socket");
    if let Some(carrier) = pictures.carrier {
        html.picture(carrier, "The carrier at each level, against what the system means");
    }
}

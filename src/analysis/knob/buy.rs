//! Which potentiometer and capacitor to buy: preferred values, by how well the travel covers the
//! wanted lines.

use crate::analysis::knob::Question;
use crate::base::math;
use crate::base::preferred::Series;

/// How many pairs are tried: all of E6 from 100 kΩ to 4.7 MΩ with all of E12 from 10 to 820 nF.
pub const PAIRS: usize = 11 * 24;

/// How far parts are from what is printed on them, shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// Of the potentiometer.
    pub track: f64,
    /// Of the capacitor.
    pub capacitor: f64,
}

/// Carbon potentiometers 20 % (makers' pages), film capacitors 10 % (common practice).
pub const USUAL: Margins = Margins { track: 0.2, capacitor: 0.1 };

/// Whether a pair of parts reaches every wanted line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cover {
    /// With every specimen within the margins.
    Always,
    /// With values as printed.
    Nominal,
    /// Not even so.
    Short,
}

/// A pair of parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// Potentiometer, Ω.
    pub track_ohms: f64,
    /// Capacitor, F.
    pub farads: f64,
    /// What of the wanted lines it reaches.
    pub cover: Cover,
    /// Highest line that is reached with large specimens; `None` if there is none.
    pub highest: Option<f64>,
    /// Lowest line that is reached with small specimens; `None` if it lies below the field.
    pub lowest: Option<f64>,
    /// Degrees of the rotation that the wanted lines take, with values as printed.
    pub wanted_deg: f64,
    /// Degrees for a paddle's height in the middle of them.
    pub paddle_deg: Option<f64>,
}

/// Tracks that are tried, Ω.
const TRACKS: (Series, f64, f64) = (Series::E6, 100e3, 4.7e6);
/// Capacitors that are tried, F.
const CAPACITORS: (Series, f64, f64) = (Series::E12, 10e-9, 820e-9);

/// Every pair of a potentiometer of E6, 100 kΩ to 4.7 MΩ, and a capacitor of E12, 10 to 820 nF, that
/// reaches the wanted lines, the best first: those that always do; then by the degrees that the
/// wanted lines take, to 5; then values that are easily had; then the capacitor nearest to the one
/// that is fitted, for which the chip is made.
#[must_use]
pub fn choices(question: &Question, margins: &Margins) -> Vec<Choice> {
    let is_hard = |easy: Series, value: f64| {
        let nearest = easy.nearest(value).unwrap_or(value);
        u8::from((nearest / value - 1.0).abs() > 1e-9)
    };
    let mut all: Vec<(Choice, (f64, u8))> = Vec::new();
    for track_ohms in TRACKS.0.values_between(TRACKS.1, TRACKS.2) {
        for farads in CAPACITORS.0.values_between(CAPACITORS.1, CAPACITORS.2) {
            let choice = choice(question, margins, track_ohms, farads);
            // Potentiometers are sold as 1, 2.2 and 4.7 in most shops, and capacitors in E6.
            let hard = is_hard(Series::E3, track_ohms) + is_hard(Series::E6, farads);
            all.push((choice, (math::round(choice.wanted_deg / 5.0), hard)));
        }
    }
    all.retain(|(choice, _)| choice.cover != Cover::Short);
    let fitted = question.controller().ramp.farads;
    let far = |choice: &Choice| math::ln(choice.farads / fitted).abs();
    all.sort_by(|(a, (a_deg, a_hard)), (b, (b_deg, b_hard))| {
        let by_cover = a.cover.cmp(&b.cover).then(b_deg.total_cmp(a_deg));
        by_cover.then(a_hard.cmp(b_hard)).then(far(a).total_cmp(&far(b)))
    });
    all.into_iter().map(|(choice, _)| choice).collect()
}

/// One pair of parts, judged as those of [`choices`] are.
#[must_use]
pub fn choice(question: &Question, margins: &Margins, track_ohms: f64, farads: f64) -> Choice {
    let line = |end: f64, share: f64| {
        let tracks = 1.0 + share * margins.track;
        let capacitors = 1.0 + share * margins.capacitor;
        question.line(end, |own| {
            own.ramp.farads = capacitors * farads;
            own.track.ohms = tracks * track_ohms;
        })
    };
    let reversed = question.controller().track.reversed;
    let (near, far) = if reversed { (1.0, 0.0) } else { (0.0, 1.0) };
    let reaches = |share: f64| {
        let top = line(near, share).is_some_and(|line| line <= question.wanted.start);
        top && line(far, share).is_none_or(|line| line >= question.wanted.end)
    };
    let cover = match [reaches(0.0), reaches(-1.0), reaches(1.0)] {
        [true, true, true] => Cover::Always,
        [true, ..] => Cover::Nominal,
        _ => Cover::Short,
    };
    let mut changed = question.clone();
    if let Some(own) = &mut changed.controllers.sides[question.side] {
        own.track.ohms = track_ohms;
        own.ramp.farads = farads;
    }
    let short = cover == Cover::Short;
    let turn = if short { None } else { Some(changed.turn()) };
    Choice {
        track_ohms,
        farads,
        cover,
        highest: line(near, 1.0),
        lowest: line(far, -1.0),
        wanted_deg: turn.map_or(0.0, |turn| turn.wanted_deg),
        paddle_deg: turn.and_then(|turn| turn.paddle_deg[1]),
    }
}

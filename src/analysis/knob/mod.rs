//! The controller map: from the knob's angle to the line on which the paddle begins, and what moves
//! it besides the hand.

pub mod buy;

use crate::base::math;
use crate::raster::controller::Controller;
use crate::raster::controller::Controllers;
use crate::raster::controller::Start;
use crate::raster::controller::contact::Contact;
use crate::raster::controller::ramp::Hum;
use crate::raster::controller::ramp::Ramp;
use crate::signal::timing::FieldTiming;
use std::ops::Range;

/// Whose knob, and where its paddle should get.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Both players' controllers; the one asked about is there.
    pub controllers: Controllers,
    /// Whose: 0 left, 1 right.
    pub side: usize,
    /// Lines of the chip.
    pub timing: FieldTiming,
    /// First lines that the paddle should reach, highest and lowest.
    pub wanted: Range<f64>,
    /// Height of the paddle, lines.
    pub paddle_lines: u32,
}

/// The knob in one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Share of the rotation.
    pub knob: f64,
    /// Resistance of the track, Ω.
    pub track_ohms: f64,
    /// Line on which the paddle begins, and parts of it; `None` if it is not drawn.
    pub line: Option<f64>,
    /// How far it wobbles to either side, lines: two deviations of the standing noise, and the
    /// peak of the hum.
    pub wobble: Option<f64>,
}

/// Where on the rotation the paddle does what, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Paddle above the wanted lines; the stop's dead end is part of it.
    pub above_deg: f64,
    /// Paddle within them.
    pub wanted_deg: f64,
    /// Paddle below them, or not drawn.
    pub below_deg: f64,
    /// Dead at each end of the rotation, and part of the above.
    pub dead_deg: f64,
    /// For a paddle's height: at the highest, the middle and the lowest wanted line; `None` where
    /// the knob does not get.
    pub paddle_deg: [Option<f64>; 3],
}

/// What moves the paddle with the knob at rest in one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Restless {
    /// How steeply the ramp passes the threshold, V/s.
    pub slope: f64,
    /// Volts on the ramp for a line.
    pub volts_per_line: f64,
    /// Peak of the hum, lines.
    pub hum_lines: f64,
    /// Deviation of the standing noise, lines.
    pub standing_lines: f64,
    /// One per cent of the track, lines.
    pub percent_lines: f64,
    /// A spike of mean height, lines.
    pub spike_lines: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct KnobMap {
    /// Whose: 0 left, 1 right.
    pub side: usize,
    /// The controller.
    pub controller: Controller,
    /// Lines of the chip.
    pub timing: FieldTiming,
    /// First lines that the paddle should reach.
    pub wanted: Range<f64>,
    /// Height of the paddle, lines.
    pub paddle_lines: u32,
    /// A hundred and one places from stop to stop.
    pub points: Vec<Point>,
    /// What the rotation is used for.
    pub turn: Turn,
    /// At half turn, and at the end where the ramp is longest; `None` if the threshold is not
    /// passed there.
    pub restless: [Option<Restless>; 2],
    /// Line at half turn from these supplies, V.
    pub supplies: Vec<(f64, Option<f64>)>,
    /// The same with every cell or adapter drooping: lines for a volt less.
    pub lines_per_volt_less: Option<f64>,
    /// Lowest line with this pot, and with one that is 5 % lower.
    pub lowest: [Option<f64>; 2],
    /// How far the paddle moves at half turn as the other knob goes from stop to stop, lines; `None`
    /// if there is no other or one of them is not drawn.
    pub other_lines: Option<f64>,
}

impl Question {
    fn controller(&self) -> Controller {
        self.controllers.sides[self.side].expect("the controller asked about is there")
    }

    /// The line with the knob there, and nothing but the hand that moves it; parts changed by
    /// `change`.
    fn line(&self, knob: f64, change: impl Fn(&mut Controller)) -> Option<f64> {
        let mut all = self.controllers;
        for side in all.sides.iter_mut().flatten() {
            side.turning_deg = 0.0;
            side.hum = Hum { volts: 0.0, ..side.hum };
            side.contact = quiet(side.contact);
        }
        if let Some(own) = &mut all.sides[self.side] {
            own.knob = knob;
            change(own);
        }
        match all.starts(0, &self.timing)[self.side] {
            Some(Start::Line(line)) => Some(line),
            _ => None,
        }
    }

    /// Volts and times where the ramp passes the threshold, through the ramp's own lead alone.
    fn restless(&self, knob: f64) -> Option<Restless> {
        let one = self.controller();
        let ohms = one.ramp.series_ohms + one.track.ohms_at(knob) + self.controllers.common_ohms;
        self.line(knob, |_| {})?;
        let line_hz = self.timing.line_hz();
        let slope = one.ramp.slope(ohms);
        let per_ohm = line_hz * seconds_per_ohm(&one.ramp, ohms)?;
        let track = one.track.ohms;
        Some(Restless {
            slope,
            volts_per_line: slope / line_hz,
            hum_lines: one.hum.volts * line_hz / slope,
            standing_lines: one.contact.standing * track * per_ohm,
            percent_lines: 0.01 * track * per_ohm,
            spike_lines: one.contact.spike_height * track * per_ohm,
        })
    }

    fn point(&self, knob: f64) -> Point {
        let restless = self.restless(knob);
        Point {
            knob,
            track_ohms: self.controller().track.ohms_at(knob),
            line: self.line(knob, |_| {}),
            wobble: restless.map(|one| 2.0 * one.standing_lines + one.hum_lines),
        }
    }

    /// The knob at which the paddle begins on a line: the first from the end of the shortest ramp;
    /// counted as share of the rotation from that end. 1 if it gets nowhere near.
    fn knob_at(&self, line: f64) -> f64 {
        let reversed = self.controller().track.reversed;
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let knob = if reversed { 1.0 - middle } else { middle };
            let is_below = self.line(knob, |_| {}).is_none_or(|found| found >= line);
            if is_below { high = middle } else { low = middle }
        }
        0.5 * (low + high)
    }

    fn turn(&self) -> Turn {
        let track = self.controller().track;
        let whole = track.rotation_deg;
        let (top, bottom) = (self.knob_at(self.wanted.start), self.knob_at(self.wanted.end));
        let dead_deg = 0.5 * (whole - track.travel_deg) + track.flat * track.travel_deg;
        let middle = f64::midpoint(self.wanted.start, self.wanted.end);
        let height = f64::from(self.paddle_lines);
        let paddle_deg = [self.wanted.start, middle, self.wanted.end].map(|line| {
            let (from, to) = (self.knob_at(line - 0.5), self.knob_at(line + 0.5));
            let reached = from > 1e-9 && to < 1.0 - 1e-9;
            reached.then_some((to - from) * whole * height)
        });
        Turn {
            above_deg: top * whole,
            wanted_deg: (bottom - top) * whole,
            below_deg: (1.0 - bottom) * whole,
            dead_deg,
            paddle_deg,
        }
    }
}

/// A contact that adds nothing.
fn quiet(contact: Contact) -> Contact {
    Contact { standing: 0.0, spikes: 0.0, openings: 0.0, ..contact }
}

/// By how much later the threshold is passed for an ohm more, s/Ω: a central difference.
fn seconds_per_ohm(ramp: &Ramp, ohms: f64) -> Option<f64> {
    let step = 1e-4 * ohms;
    Some((ramp.crossing_s(ohms + step)? - ramp.crossing_s(ohms - step)?) / (2.0 * step))
}

/// Places on the map beside the first.
const PLACES: u32 = 100;
/// Supplies that are tried, V below the controller's own.
const DROOPS: [f64; 4] = [0.0, 0.5, 1.0, 1.5];

/// Draws the map of a knob.
///
/// # Panics
///
/// If the side asked about has no controller.
#[must_use]
pub fn knob_map(question: &Question) -> KnobMap {
    let controller = question.controller();
    let points =
        (0..=PLACES).map(|place| question.point(f64::from(place) / f64::from(PLACES))).collect();
    let far = if controller.track.reversed { 0.0 } else { 1.0 };
    let from = |volts: f64| {
        let mut fed = question.clone();
        for side in fed.controllers.sides.iter_mut().flatten() {
            side.ramp.supply_v = volts;
        }
        fed.line(0.5, |_| {})
    };
    let own_v = controller.ramp.supply_v;
    let supplies: Vec<(f64, Option<f64>)> = DROOPS
        .map(|droop| own_v - droop)
        .into_iter()
        .filter(|volts| *volts > 0.0)
        .map(|volts| (volts, from(volts)))
        .collect();
    let lines_per_volt_less =
        from(own_v - 0.05).zip(from(own_v + 0.05)).map(|(less, more)| (less - more) / 0.1);
    let other_lines = other_lines(question);
    KnobMap {
        side: question.side,
        controller,
        timing: question.timing,
        wanted: question.wanted.clone(),
        paddle_lines: question.paddle_lines,
        points,
        turn: question.turn(),
        restless: [question.restless(0.5), question.restless(far)],
        supplies,
        lines_per_volt_less,
        lowest: [1.0, 0.95].map(|share| question.line(far, |own| own.track.ohms *= share)),
        other_lines,
    }
}

/// What the other knob does through the lead that both share.
fn other_lines(question: &Question) -> Option<f64> {
    let other = 1 - question.side;
    question.controllers.sides[other]?;
    let with = |knob: f64| {
        let mut question = question.clone();
        if let Some(side) = &mut question.controllers.sides[other] {
            side.knob = knob;
        }
        question.line(0.5, |_| {})
    };
    Some(math::floor(1e6 * (with(0.0)? - with(1.0)?).abs() + 0.5) / 1e6)
}

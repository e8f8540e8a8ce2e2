//! What the raster draws: resolved, with nothing left open.

use crate::raster::controller::Controllers;
use crate::raster::court;
use crate::raster::rules::Rally;
use crate::raster::rules::Rules;
use crate::raster::rules::TONES;
use crate::raster::rules::Tones;
use crate::signal::element::ElementId;
use crate::signal::element::ElementMap;
use crate::signal::element::ElementSet;
use crate::signal::element::Shape;
use crate::signal::pulse_train::Level;
use crate::signal::timing::FieldTiming;
use std::ops::Range;

/// Everything the raster needs for any number of fields.
#[derive(Clone, Debug, PartialEq)]
pub struct RasterPlan {
    /// Clock, lines and sync.
    pub timing: FieldTiming,
    /// Names of the elements; an [`ElementId`] is an index here.
    pub elements: Vec<String>,
    /// The chip's output pins, in the order of the trains.
    pub pins: Vec<PinPlan>,
    /// Sync pulses given one by one in place of the form that `timing` describes.
    pub sync_blocks: Option<Vec<Block>>,
    /// What is drawn.
    pub content: Content,
}

impl RasterPlan {
    /// Every shape that the chip draws, whether it shows in a field or not.
    #[must_use]
    pub fn shapes(&self) -> Vec<Shape> {
        match &self.content {
            Content::Game(court, _) => court::shapes(court),
            Content::Pattern(map) => map.shapes.clone(),
        }
    }

    /// The tones of the chip; those of the class for a pattern, which makes none.
    #[must_use]
    pub fn tones(&self) -> Tones {
        match &self.content {
            Content::Game(court, _) => court.rules.tones,
            Content::Pattern(_) => TONES,
        }
    }
}

/// A rectangle of lines and clocks, as a pattern-driven pin is described.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// Lines, 0 = first of field sync.
    pub lines: Range<u32>,
    /// Clocks within each of those lines.
    pub clocks: Range<u32>,
}

/// What the elements draw.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A game: a court laid out, and where everything is in the first field.
    Game(Box<Court>, GameState),
    /// The same fixed map in every field.
    Pattern(ElementMap),
}

/// An output pin and what it carries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PinPlan {
    /// Name, as in the profile.
    pub name: String,
    /// What makes the pin active.
    pub carries: Carries,
    /// Which level is the active one; a combined pin has levels instead of a sense.
    pub sense: Sense,
}

/// Which of an ordinary pin's two levels means *lit*, or *pulse* on the sync pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// High is active.
    ActiveHigh,
    /// Low is active.
    ActiveLow,
}

/// What a pin puts out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Carries {
    /// Line and field sync.
    Sync,
    /// The union of these elements.
    Elements(ElementSet),
    /// A ready-mixed picture with its own sync.
    Combined(CombinedLevels),
}

/// Level indices of a combined pin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CombinedLevels {
    /// In sync pulses.
    pub tip: Level,
    /// In blanking outside sync.
    pub blanking: Level,
    /// In the active picture where nothing is lit.
    pub black: Level,
    /// Level of each element; where several are lit, the first in this list wins.
    pub lit: Vec<(ElementId, Level)>,
}

/// Where in the line a moment lies, which is all a pin knows besides the lit elements.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinePart {
    /// Sync asserted.
    Sync,
    /// Blanked, sync released.
    Blanking,
    /// Picture.
    Active,
}

impl PinPlan {
    /// The level this pin puts out with `lit` elements in `part` of a line.
    #[must_use]
    pub fn level(&self, lit: ElementSet, part: LinePart) -> Level {
        let active = match &self.carries {
            Carries::Sync => part == LinePart::Sync,
            Carries::Elements(carried) => carried.0 & lit.0 != 0,
            Carries::Combined(levels) => return levels.level(lit, part),
        };
        match (active, self.sense) {
            (true, Sense::ActiveHigh) | (false, Sense::ActiveLow) => Level::HIGH,
            (true, Sense::ActiveLow) | (false, Sense::ActiveHigh) => Level::LOW,
        }
    }

    /// The highest level index this pin can put out.
    #[must_use]
    pub fn highest_level(&self) -> Level {
        match &self.carries {
            Carries::Sync | Carries::Elements(_) => Level::HIGH,
            Carries::Combined(levels) => levels.highest(),
        }
    }
}

impl CombinedLevels {
    fn highest(&self) -> Level {
        let lit = self.lit.iter().map(|&(_, level)| level);
        lit.fold(self.tip.max(self.blanking).max(self.black), Level::max)
    }

    fn level(&self, lit: ElementSet, part: LinePart) -> Level {
        match part {
            LinePart::Sync => self.tip,
            LinePart::Blanking => self.blanking,
            LinePart::Active => {
                let first = self.lit.iter().find(|(element, _)| lit.contains(*element));
                first.map_or(self.black, |&(_, level)| level)
            }
        }
    }
}

/// A court laid out in clocks and lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Court {
    /// Unmoving drawings: field lines, net, wall.
    pub marks: Vec<Mark>,
    /// The two score displays, left and right, where the court has them.
    pub scores: Vec<ScorePlace>,
    /// Paddles on this court.
    pub paddles: Vec<Paddle>,
    /// The ball.
    pub ball: Ball,
    /// Clocks and lines within which the ball moves.
    pub field: Area,
    /// How it is played.
    pub rules: Rules,
}

/// A rectangle of the field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// First clock.
    pub x: u32,
    /// First line.
    pub y: u32,
    /// Clocks wide.
    pub width: u32,
    /// Lines high.
    pub height: u32,
}

/// An unmoving drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// Shape name.
    pub name: String,
    /// The element that draws it.
    pub element: ElementId,
    /// Where.
    pub area: Area,
    /// Lines on and off, from the top, if dashed.
    pub dash: Option<(u32, u32)>,
    /// Whether the ball rebounds from it, or passes.
    pub contact: Contact,
}

/// What a drawing is to the ball.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// It passes, as through a net.
    Passes,
    /// It comes back, as from a wall.
    Rebounds,
}

/// A two-digit score on a grid of 3 by 5 cells a figure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScorePlace {
    /// Shape name.
    pub name: String,
    /// The element that draws it.
    pub element: ElementId,
    /// Whose score: 0 left, 1 right.
    pub player: usize,
    /// First clock of the tens.
    pub x: u32,
    /// First line.
    pub y: u32,
    /// Clocks a cell.
    pub cell_width: u32,
    /// Lines a cell.
    pub cell_height: u32,
    /// Clocks between the two figures.
    pub gap: u32,
}

/// A paddle that a player moves up and down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paddle {
    /// Shape name.
    pub name: String,
    /// The element that draws it.
    pub element: ElementId,
    /// Who moves it: 0 left, 1 right.
    pub player: usize,
    /// First clock.
    pub x: u32,
    /// Clocks wide.
    pub width: u32,
    /// Lines high.
    pub height: u32,
    /// Its first line at position 0.
    pub top: u32,
    /// Its first line at position 1.
    pub bottom: u32,
    /// The way it sends the ball, 1 right, −1 left; one that already flies that way passes.
    pub sends: i64,
}

/// The ball.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ball {
    /// Shape name.
    pub name: String,
    /// The element that draws it.
    pub element: ElementId,
    /// Clocks wide.
    pub width: u32,
    /// Lines high.
    pub height: u32,
}

/// Where everything is; carried from field to field.
#[derive(Clone, Debug, PartialEq)]
pub struct GameState {
    /// Player positions, 0 top to 1 bottom: left, right.
    pub players: [f64; 2],
    /// First clock and line of the ball, or of the target; outside the court it is not drawn.
    pub ball: (i64, i64),
    /// Clocks and lines that it moves in a field.
    pub velocity: (i64, i64),
    /// Scores, 0 to 99: left, right.
    pub score: [u8; 2],
    /// What places a paddle instead of its player's position, if there is any.
    pub controllers: Option<Box<Controllers>>,
    /// Fields that have been shown.
    pub field: u64,
    /// What the rally has come to.
    pub rally: Rally,
}

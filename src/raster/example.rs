//! A court for the tests: the generic 50 Hz layout, all values common practice, no source.

use crate::base::ticks::ClockRate;
use crate::raster::plan::Area;
use crate::raster::plan::Ball;
use crate::raster::plan::Carries;
use crate::raster::plan::Contact;
use crate::raster::plan::Content;
use crate::raster::plan::Court;
use crate::raster::plan::GameState;
use crate::raster::plan::Mark;
use crate::raster::plan::Paddle;
use crate::raster::plan::PinPlan;
use crate::raster::plan::RasterPlan;
use crate::raster::plan::ScorePlace;
use crate::raster::plan::Sense;
use crate::raster::rules::Rally;
use crate::raster::rules::Rules;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use crate::signal::timing::FieldSync;
use crate::signal::timing::FieldTiming;

pub(super) const FIELD: ElementId = ElementId(0);
pub(super) const BALL: ElementId = ElementId(1);
pub(super) const LEFT: ElementId = ElementId(2);
pub(super) const RIGHT: ElementId = ElementId(3);

/// 312 lines of 128 clocks at 2 MHz, field sync of four inverted lines.
pub(super) fn timing() -> FieldTiming {
    FieldTiming {
        clock: ClockRate::new(2_000_000, 1).unwrap(),
        clocks_per_line: 128,
        lines_per_field: 312,
        line_sync: 9,
        active_start: 21,
        active_stop: 125,
        field_sync: FieldSync::Inverted,
        field_sync_lines: 4,
        first_active_line: 24,
    }
}

/// Net court, sync active low, the rest active high, ball at mid-court moving right and down.
pub(super) fn plan() -> RasterPlan {
    RasterPlan {
        timing: timing(),
        elements: ["field lines", "ball", "left player", "right player"].map(str::to_owned).into(),
        pins: vec![
            pin("sync", Carries::Sync, Sense::ActiveLow),
            pin("field", Carries::Elements(ElementSet::only(FIELD)), Sense::ActiveHigh),
            pin("ball", Carries::Elements(ElementSet::only(BALL)), Sense::ActiveHigh),
            pin("left", Carries::Elements(ElementSet::only(LEFT)), Sense::ActiveHigh),
            pin("right", Carries::Elements(ElementSet::only(RIGHT)), Sense::ActiveHigh),
        ],
        sync_blocks: None,
        content: Content::Game(Box::new(court()), state()),
    }
}

pub(super) fn pin(name: &str, carries: Carries, sense: Sense) -> PinPlan {
    PinPlan { name: name.to_owned(), carries, sense }
}

pub(super) fn court() -> Court {
    let paddle = |name: &str, element, player, x| Paddle {
        name: name.to_owned(),
        element,
        player,
        x,
        width: 2,
        height: 24,
        top: 52,
        bottom: 256,
        sends: if player == 0 { 1 } else { -1 },
    };
    Court {
        marks: vec![
            mark("top line", (34, 48), (78, 4), None),
            mark("bottom line", (34, 280), (78, 4), None),
            mark("net", (73, 52), (1, 228), Some((6, 6))),
        ],
        scores: vec![score("left score", 0, 50), score("right score", 1, 84)],
        paddles: vec![paddle("left paddle", LEFT, 0, 40), paddle("right paddle", RIGHT, 1, 105)],
        ball: Ball { name: "ball".to_owned(), element: BALL, width: 2, height: 7 },
        field: Area { x: 21, y: 52, width: 104, height: 228 },
        rules: Rules { goals: [true; 2], ..Rules::usual(timing().field_hz()) },
    }
}

pub(super) fn mark(
    name: &str,
    (x, y): (u32, u32),
    (width, height): (u32, u32),
    dash: Option<(u32, u32)>,
) -> Mark {
    let area = Area { x, y, width, height };
    Mark { name: name.to_owned(), element: FIELD, area, dash, contact: Contact::Passes }
}

fn score(name: &str, player: usize, x: u32) -> ScorePlace {
    ScorePlace {
        name: name.to_owned(),
        element: FIELD,
        player,
        x,
        y: 60,
        cell_width: 2,
        cell_height: 5,
        gap: 2,
    }
}

pub(super) fn state() -> GameState {
    GameState {
        players: [0.35, 0.6],
        ball: (64, 150),
        velocity: (1, 1),
        score: [3, 11],
        controllers: None,
        field: 0,
        rally: Rally::default(),
    }
}

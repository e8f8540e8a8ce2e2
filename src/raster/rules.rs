//! How a court is played: what the ball rebounds from, who moves the paddles, what scores.

use crate::base::math;
use crate::raster::plan::Court;

/// The rules of a court, with what a scenario says over them.
#[derive(Clone, Debug, PartialEq)]
pub struct Rules {
    /// Whether the ball is lost at the left and at the right edge of its field; an edge at which it
    /// is not is one from which it rebounds, as the upper and the lower one are.
    pub goals: [bool; 2],
    /// Lines that the ball moves for each clock after it has met a band of a paddle, from the
    /// uppermost band on; above 0 is down. At least one.
    pub angles: Vec<i64>,
    /// Clocks that the ball moves in a field: 1 slow, 2 fast.
    pub speed: i64,
    /// Hits in a rally after which the speed is doubled; `None` for never.
    pub faster_after: Option<u32>,
    /// Fields without a ball before it is served again.
    pub serve_fields: u32,
    /// What scores.
    pub points: Points,
    /// The score at which a game ends.
    pub last_point: u8,
    /// Who moves the paddles.
    pub players: Players,
    /// What flies in place of a ball, if that is a target.
    pub target: Option<Target>,
    /// Fields in which the trigger is pulled, counted from 1, rising.
    pub shots: Vec<u64>,
    /// Where the pistol points.
    pub aim: Aim,
    /// Where serves and players take their random numbers from.
    pub seed: u64,
    /// The tones on the sound pin.
    pub tones: Tones,
}

/// What scores.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Points {
    /// A lost ball, for the player of the other side.
    Lost,
    /// The players take turns; a lost ball scores for who struck it last.
    Turns,
    /// A hit, for who strikes; a lost ball is only served again.
    Hits,
    /// The left figures count shots, the right ones those that met the target.
    Shots,
}

/// Who moves the paddles that no controller places.
#[derive(Clone, Debug, PartialEq)]
pub enum Players {
    /// Each stands, or goes from one stated place to the next: field, counted from 1 and rising, and
    /// position, 0 to 1. An empty list leaves the player where the game begins.
    Held([Vec<(u64, f64)>; 2]),
    /// Each follows the ball while it comes towards him.
    Follow {
        /// Most lines a field.
        lines: i64,
        /// Share of the balls that a player goes to meet in the wrong place, 0 to 1.
        misses: f64,
    },
}

/// How a target goes about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// As a ball that rebounds from every edge.
    Moves,
    /// It stands for so many fields, 1 or more, and then stands elsewhere.
    Jumps(u32),
}

/// Where the pistol points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// At the target.
    Target,
    /// At a clock and a line.
    At(i64, i64),
}

/// The tones on the sound pin: square waves at whole parts of the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tones {
    /// Clocks in a period of the tone of a hit; even, 2 or more, as are the others.
    pub hit: u32,
    /// The same, of a rebound from a line or a wall.
    pub rebound: u32,
    /// The same, of a point.
    pub score: u32,
    /// Clocks for which a tone lasts.
    pub burst: u32,
}

/// The tones of the class.
///
/// # Source
///
/// Class data sheets state about 976, 488 and 1950 Hz for 32 ms, which are these parts of
/// [`CLASS_CLOCK_HZ`].
pub const TONES: Tones = Tones { hit: 2048, rebound: 4096, score: 1024, burst: 64_000 };

/// The clock at which class data sheets state the tones, Hz.
pub const CLASS_CLOCK_HZ: f64 = 2e6;

/// About one and a half seconds: class data sheets.
pub const SERVE_S: f64 = 1.5;
/// The score at which a game ends: class data sheets.
pub const LAST_POINT: u8 = 15;
/// Two bands of a paddle, one up and one down by one line for each clock: the whole step nearest to the
/// ±20° that class data sheets state. On a picture of 104 clocks by 288 lines, 4 : 3, it is ±15.2°, and
/// ±18.0° of 240 lines (atan((3 / lines) / (4 / 104)), as `tests/integration/play.rs` has it); two lines
/// would be 28.4° and 33.0°.
pub const ANGLES: [i64; 2] = [-1, 1];
/// How a player who follows the ball moves, and how often he misses; no source.
pub const FOLLOW_LINES: i64 = 2;
/// See [`FOLLOW_LINES`].
pub const MISSES: f64 = 0.2;

/// What happens in a game that can be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Event {
    /// The ball comes back from a line or a wall.
    Rebound,
    /// A paddle strikes it.
    Hit,
    /// A point is scored.
    Score,
}

impl Tones {
    /// Clocks in a period of an event's tone.
    #[must_use]
    pub fn period(&self, event: Event) -> u32 {
        match event {
            Event::Hit => self.hit,
            Event::Rebound => self.rebound,
            Event::Score => self.score,
        }
    }

    /// Pitch of an event's tone at a clock, Hz.
    #[must_use]
    pub fn hertz(&self, event: Event, clock_hz: f64) -> f64 {
        clock_hz / f64::from(self.period(event))
    }

    /// How long a tone lasts at a clock, s.
    #[must_use]
    pub fn burst_s(&self, clock_hz: f64) -> f64 {
        f64::from(self.burst) / clock_hz
    }
}

impl Rules {
    /// The usual rules, at a field rate in Hz: no edge is a goal.
    #[must_use]
    pub fn usual(field_hz: f64) -> Self {
        Self {
            goals: [false; 2],
            angles: ANGLES.to_vec(),
            speed: 1,
            faster_after: None,
            serve_fields: math::floor_u32(SERVE_S * field_hz + 0.5),
            points: Points::Lost,
            last_point: LAST_POINT,
            players: Players::Held([Vec::new(), Vec::new()]),
            target: None,
            shots: Vec::new(),
            aim: Aim::Target,
            seed: 0,
            tones: TONES,
        }
    }
}

impl Court {
    /// The edges, left and right, that a paddle guards: those that one sends the ball away from.
    #[must_use]
    pub fn guarded(&self) -> [bool; 2] {
        [1, -1].map(|sends| self.paddles.iter().any(|paddle| paddle.sends == sends))
    }
}

/// What a rally has come to; carried from field to field.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rally {
    /// Fields until the next serve; 0 while the ball is in play.
    pub waiting: u32,
    /// Where the next serve goes: −1 left, 1 right; 0 before a ball was lost.
    pub serve_to: i64,
    /// Hits since the serve.
    pub hits: u32,
    /// Who struck last; `None` since the serve.
    pub struck_by: Option<usize>,
    /// Serves so far.
    pub serves: u64,
    /// Hits so far, in all rallies.
    pub all_hits: u64,
    /// Fields since the ball or the target appeared.
    pub age: u32,
    /// Lines of each player's paddles below their highest place, where he moves by himself.
    pub lines: [Option<i64>; 2],
}

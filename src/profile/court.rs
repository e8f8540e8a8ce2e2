//! Courts: where a game draws what, in clocks and lines.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_table;
use crate::document::fields::index_of;
use crate::document::problems::Problems;
use crate::document::tree::Entry;
use crate::document::tree::Table;
use crate::profile::pins::element_id;
use crate::profile::rules;
use crate::raster::plan::Area;
use crate::raster::plan::Ball;
use crate::raster::plan::Contact;
use crate::raster::plan::Court;
use crate::raster::plan::Mark;
use crate::raster::plan::Paddle;
use crate::raster::plan::ScorePlace;
use crate::raster::rules::Rules;
use crate::raster::rules::Tones;
use crate::signal::element::ElementId;
use crate::signal::timing::FieldTiming;

/// What a court has to fit into.
#[derive(Clone, Copy, Debug)]
pub struct Frame<'a> {
    /// The chip's timing.
    pub timing: FieldTiming,
    /// The chip's elements.
    pub elements: &'a [String],
    /// The chip's tones.
    pub tones: Tones,
}

/// Figures of a score are 3 cells wide and 5 high; there are two of them.
const FIGURE_CELLS: (u32, u32) = (3, 5);

/// Reads every court of a profile, leaving out those with mistakes.
#[must_use]
pub fn read_all(table: &Table, frame: &Frame<'_>, problems: &Problems) -> Vec<(String, Court)> {
    let read_one = |entry: &Entry| {
        let what = format!("court `{}`", entry.key);
        let table = as_table(&entry.item, &what, problems)?;
        let court = read(Fields::open(table, what, problems), frame)?;
        Some((entry.key.clone(), court))
    };
    table.entries.iter().filter_map(read_one).collect()
}

fn read(fields: Fields<'_>, frame: &Frame<'_>) -> Option<Court> {
    let reader = Reader { frame, problems: fields.problems() };
    let field = fields
        .needed("area", "expected `{ x, y, width, height }`", fields.table("area"))
        .and_then(|table| reader.field(table));
    let ball = fields
        .needed("ball", "expected `{ element, width, height }`", fields.table("ball"))
        .and_then(|table| reader.ball(table));
    let marks = reader.each(&fields, "marks", |one| reader.mark(one));
    let scores = reader.each(&fields, "scores", |one| reader.score(one));
    let paddles = reader.each(&fields, "paddles", |one| reader.paddle(one, field));
    let rules = fields.table("rules");
    fields.close();
    let usual = Rules { tones: frame.tones, ..Rules::usual(frame.timing.field_hz()) };
    let court = Court {
        marks: marks?,
        scores: scores?,
        paddles: paddles?,
        ball: ball?,
        field: field?,
        rules: usual,
    };
    let guarded = court.guarded();
    rules::put(rules, court, guarded, reader.problems)
}

struct Reader<'a> {
    frame: &'a Frame<'a>,
    problems: &'a Problems,
}

impl Reader<'_> {
    /// Every table of a list; an absent list is empty.
    fn each<T>(
        &self,
        fields: &Fields<'_>,
        key: &str,
        read_one: impl Fn(&Table) -> Option<T>,
    ) -> Option<Vec<T>> {
        if fields.entry(key).is_none() {
            return Some(Vec::new());
        }
        let items = fields.list(key, "expected a list of tables `{ ... }`")?;
        let read: Vec<Option<T>> = items
            .iter()
            .map(|item| as_table(item, key, self.problems).and_then(&read_one))
            .collect();
        read.into_iter().collect()
    }

    fn open<'t>(&'t self, table: &'t Table, what: &str) -> Fields<'t> {
        Fields::open(table, what, self.problems)
    }

    fn field(&self, table: &Table) -> Option<Area> {
        let fields = self.open(table, "the area");
        let area = self.area(&fields);
        fields.close();
        area
    }

    fn ball(&self, table: &Table) -> Option<Ball> {
        let fields = self.open(table, "the ball");
        let (name, element) = self.drawn(&fields, "ball")?;
        let width = fields.needed_count("width", 1..=self.frame.timing.clocks_per_line);
        let height = fields.needed_count("height", 1..=self.frame.timing.lines_per_field);
        fields.close();
        Some(Ball { name, element, width: width?, height: height? })
    }

    fn mark(&self, table: &Table) -> Option<Mark> {
        let fields = self.open(table, "the mark");
        let drawn = self.drawn(&fields, "");
        let area = self.area(&fields);
        let dash = fields.whole_pair("dash", 1..=i64::from(self.frame.timing.lines_per_field));
        let contact = if fields.flag("rebounds") { Contact::Rebounds } else { Contact::Passes };
        fields.close();
        let dash = dash.map(|[on, off]| Some((u32::try_from(on).ok()?, u32::try_from(off).ok()?)));
        let (name, element) = drawn?;
        Some(Mark { name, element, area: area?, dash: dash.flatten(), contact })
    }

    fn score(&self, table: &Table) -> Option<ScorePlace> {
        let fields = self.open(table, "the score");
        let drawn = self.drawn(&fields, "");
        let player = fields.needed_choice("player", &PLAYERS);
        let x = fields.needed_count("x", 0..=self.frame.timing.clocks_per_line);
        let y = fields.needed_count("y", 0..=self.frame.timing.lines_per_field);
        let cell_width = fields.needed_count("cell_width", 1..=64);
        let cell_height = fields.needed_count("cell_height", 1..=64);
        let gap = fields.needed_count("gap", 0..=256);
        fields.close();
        let (x, y, cell_width, cell_height) = (x?, y?, cell_width?, cell_height?);
        let (columns, rows) = FIGURE_CELLS;
        let width = 2 * columns * cell_width + gap?;
        self.inside(&table.span, "the score", Area { x, y, width, height: rows * cell_height })?;
        let (name, element) = drawn?;
        let player = player?;
        Some(ScorePlace { name, element, player, x, y, cell_width, cell_height, gap: gap? })
    }

    fn paddle(&self, table: &Table, field: Option<Area>) -> Option<Paddle> {
        let fields = self.open(table, "the paddle");
        let drawn = self.drawn(&fields, "");
        let player = fields.needed_choice("player", &PLAYERS);
        let x = fields.needed_count("x", 0..=self.frame.timing.clocks_per_line);
        let width = fields.needed_count("width", 1..=self.frame.timing.clocks_per_line);
        let height = fields.needed_count("height", 1..=self.frame.timing.lines_per_field);
        let top = fields.count("top", 0..=self.frame.timing.lines_per_field);
        let bottom = fields.count("bottom", 0..=self.frame.timing.lines_per_field);
        let sends = fields.choice("sends", &WAYS);
        fields.close();
        let ((name, element), x, width, height, field) = (drawn?, x?, width?, height?, field?);
        let top = top.unwrap_or(field.y);
        let bottom = bottom.unwrap_or((field.y + field.height).saturating_sub(height));
        if bottom < top {
            let message = format!("paddle `{name}` of {height} lines has no room to move");
            let expected = "expected its lowest first line below its highest";
            self.problems.add(&table.span, message, expected);
            return None;
        }
        let reach = Area { x, y: top, width, height: bottom - top + height };
        self.inside(&table.span, &format!("paddle `{name}`"), reach)?;
        let player = player?;
        let sends = sends.unwrap_or(if player == 0 { 1 } else { -1 });
        Some(Paddle { name, element, player, x, width, height, top, bottom, sends })
    }

    /// The element that draws a shape, and the shape's name, which is the element's own if none is
    /// given.
    fn drawn(&self, fields: &Fields<'_>, default: &str) -> Option<(String, ElementId)> {
        let written = fields.text("element");
        let default = (default, fields.span());
        let element = match written {
            None if default.0.is_empty() || fields.has("element") => {
                fields.needed::<()>("element", "expected one of the elements", None);
                return None;
            }
            None => default,
            Some(written) => written,
        };
        let index = index_of(element, "element", self.frame.elements, self.problems)?;
        let name = fields.text("name").map_or(element.0, |(name, _)| name);
        Some((name.to_owned(), element_id(index)))
    }

    /// `x`, `y`, `width` and `height`, inside the picture.
    fn area(&self, fields: &Fields<'_>) -> Option<Area> {
        let timing = &self.frame.timing;
        let x = fields.needed_count("x", 0..=timing.clocks_per_line);
        let y = fields.needed_count("y", 0..=timing.lines_per_field);
        let width = fields.needed_count("width", 1..=timing.clocks_per_line);
        let height = fields.needed_count("height", 1..=timing.lines_per_field);
        let area = Area { x: x?, y: y?, width: width?, height: height? };
        self.inside(fields.span(), fields.what(), area)?;
        Some(area)
    }

    fn inside(&self, span: &Span, what: &str, area: Area) -> Option<()> {
        let timing = &self.frame.timing;
        let right = area.x + area.width;
        let bottom = area.y + area.height;
        if area.x < timing.active_start || right > timing.active_stop {
            let message = format!(
                "{what} takes clocks {} to {right}, but the active line is clocks {} to {}",
                area.x, timing.active_start, timing.active_stop
            );
            self.problems.add(span, message, "expected it inside the active line");
            return None;
        }
        if area.y < timing.first_active_line || bottom > timing.lines_per_field {
            let message = format!(
                "{what} takes lines {} to {bottom}, but the picture is lines {} to {}",
                area.y, timing.first_active_line, timing.lines_per_field
            );
            self.problems.add(span, message, "expected it inside the picture");
            return None;
        }
        Some(())
    }
}

/// Where a paddle sends the ball.
const WAYS: [(&str, i64); 2] = [("left", -1), ("right", 1)];
const PLAYERS: [(&str, usize); 2] = [("left", 0), ("right", 1)];

//! The gallery: symptoms of the trade, each from a scenario of its own in `tests/gallery`, rendered and
//! then read off the frame by a reader that knows pixels only. What it finds is held to what theory makes
//! of the scenario. With `--nocapture` each test tells its row, what was computed and what was found;
//! with `BACKPORCH_GALLERY` set to a folder the frames are kept there.

mod edge_rows;
mod hum_rows;
mod level_rows;
mod lock_rows;
mod reader;

use crate::boards::example;
use crate::boards::fields;
use crate::gallery::reader::Frame;
use crate::published::show;
use backporch::base::math;
use backporch::output::png::write_frame;
use backporch::scenario::Scenario;
use backporch::simulate::FieldRun;
use std::path::Path;

/// A row of the gallery as it was rendered.
struct Shots {
    scenario: Scenario,
    fields: Vec<FieldRun>,
    frames: Vec<Frame>,
}

/// Renders the scenario of a row with settings.
fn shots(row: &str, sets: &[&str], count: usize) -> Shots {
    shots_of(&format!("tests/gallery/{row}.toml"), row, sets, count)
}

fn shots_of(path: &str, name: &str, sets: &[&str], count: usize) -> Shots {
    let scenario = example(path, sets);
    let fields = fields(&scenario, count);
    let frames = fields.iter().map(|field| Frame::new(&field.reception.picture)).collect();
    keep(name, sets, &fields);
    Shots { scenario, fields, frames }
}

/// Writes the first and the last frame where somebody has asked for them.
fn keep(name: &str, sets: &[&str], fields: &[FieldRun]) {
    let Some(folder) = std::env::var_os("BACKPORCH_GALLERY") else { return };
    let more: String =
        sets.iter().map(|set| format!("-{set}").replace(['/', ' ', '"'], "")).collect();
    for (number, field) in (1..).zip(fields) {
        if number == 1 || number == fields.len() {
            let mut png = Vec::new();
            write_frame(&field.reception.picture, &mut png).unwrap();
            let file = Path::new(&folder).join(format!("{name}{more}-{number}.png"));
            std::fs::write(file, png).unwrap();
        }
    }
}

/// Tells a finding, and fails unless it is as near to what was computed as it has to be.
fn told(row: &str, what: &str, [computed, found, within]: [f64; 3]) {
    show(&format!(
        "row {row}: {what}: computed {computed:.4}, in the frame {found:.4} (± {within:.4})"
    ));
    assert!((found - computed).abs() <= within, "row {row}: {what}: {found}, computed {computed}");
}

/// How a set lays lines and time out on its frame, from its settings alone.
struct Layout {
    /// Columns in a second.
    columns_per_s: f64,
    /// First line that is seen.
    first: f64,
    /// Rows in a line.
    rows_per_line: f64,
}

impl Layout {
    fn of(scenario: &Scenario) -> Self {
        let set = &scenario.receiver;
        let hidden = math::floor(0.5 * set.overscan * f64::from(set.shown_lines) + 0.5);
        let seen = f64::from(set.shown_lines) - 2.0 * hidden;
        let seen_s = set.active_s * (1.0 - set.overscan);
        Self {
            columns_per_s: math::from_usize(set.frame.0) / seen_s,
            first: f64::from(set.first_line) + hidden,
            rows_per_line: math::from_usize(set.frame.1) / seen,
        }
    }

    /// The row in the middle of a line.
    fn row(&self, line: f64) -> usize {
        math::floor_index((line - self.first + 0.5) * self.rows_per_line)
    }

    /// The line that is drawn in a row.
    fn line(&self, row: usize) -> f64 {
        self.first + math::floor((math::from_usize(row) + 0.5) / self.rows_per_line)
    }
}

//! Score figures on a grid of 3 by 5 cells.

use crate::raster::plan::ScorePlace;
use crate::raster::rectangle::Rectangle;
use std::ops::Range;

/// Cells across a figure.
pub(super) const COLUMNS: u32 = 3;
/// Cells down a figure.
pub(super) const ROWS: u32 = 5;

/// Rows from the top; the highest of three bits is the left cell. Plain seven-stroke shapes.
const FIGURES: [[u8; 5]; 10] = [
    [0b111, 0b101, 0b101, 0b101, 0b111],
    [0b001, 0b001, 0b001, 0b001, 0b001],
    [0b111, 0b001, 0b111, 0b100, 0b111],
    [0b111, 0b001, 0b111, 0b001, 0b111],
    [0b101, 0b101, 0b111, 0b001, 0b001],
    [0b111, 0b100, 0b111, 0b001, 0b111],
    [0b111, 0b100, 0b111, 0b101, 0b111],
    [0b111, 0b001, 0b001, 0b001, 0b001],
    [0b111, 0b101, 0b111, 0b101, 0b111],
    [0b111, 0b101, 0b111, 0b001, 0b111],
];

/// The lit rectangles of a score; the tens are dark below 10.
pub(super) fn rectangles(place: &ScorePlace, score: u8) -> Vec<Rectangle> {
    let tens = (score >= 10).then(|| figure(place, place.x, score / 10 % 10));
    let units_x = place.x + COLUMNS * place.cell_width + place.gap;
    tens.into_iter().flatten().chain(figure(place, units_x, score % 10)).collect()
}

fn figure(place: &ScorePlace, x: u32, figure: u8) -> Vec<Rectangle> {
    let (width, height) = (place.cell_width, place.cell_height);
    let mut lit = Vec::new();
    for (row, &cells) in (0..).zip(&FIGURES[usize::from(figure)]) {
        let line = i64::from(place.y + row * height);
        for run in runs(cells) {
            let clock = i64::from(x + run.start * width);
            lit.push(Rectangle::at((clock, line), ((run.end - run.start) * width, height)));
        }
    }
    lit
}

/// Unbroken runs of lit cells in a row, from the left.
fn runs(cells: u8) -> Vec<Range<u32>> {
    let is_lit = |column: u32| cells >> (COLUMNS - 1 - column) & 1 == 1;
    let mut runs: Vec<Range<u32>> = Vec::new();
    for column in (0..COLUMNS).filter(|&column| is_lit(column)) {
        match runs.last_mut() {
            Some(run) if run.end == column => run.end += 1,
            _ => runs.push(column..column + 1),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::element::ElementId;

    /// Draws a score as text, one character a clock and one row a line.
    fn drawn(score: u8) -> Vec<String> {
        let place = ScorePlace {
            name: "score".to_owned(),
            element: ElementId(0),
            player: 0,
            x: 0,
            y: 0,
            cell_width: 1,
            cell_height: 1,
            gap: 1,
        };
        let mut rows = vec![vec!['.'; 7]; 5];
        for area in rectangles(&place, score) {
            for line in area.lines {
                for clock in area.clocks.clone() {
                    rows[usize::try_from(line).unwrap()][usize::try_from(clock).unwrap()] = '#';
                }
            }
        }
        rows.into_iter().map(String::from_iter).collect()
    }

    #[test]
    fn nought_is_a_ring_without_tens() {
        assert_eq!(drawn(0), ["....###", "....#.#", "....#.#", "....#.#", "....###"]);
    }

    #[test]
    fn seven_is_a_bar_and_a_right_stroke() {
        assert_eq!(drawn(7), ["....###", "......#", "......#", "......#", "......#"]);
    }

    #[test]
    fn ten_shows_its_tens() {
        assert_eq!(drawn(10), ["..#.###", "..#.#.#", "..#.#.#", "..#.#.#", "..#.###"]);
    }

    #[test]
    fn fifteen_is_a_one_and_a_five() {
        assert_eq!(drawn(15), ["..#.###", "..#.#..", "..#.###", "..#...#", "..#.###"]);
    }

    #[test]
    fn all_ten_figures_differ() {
        for (index, figure) in FIGURES.iter().enumerate() {
            assert!(!FIGURES[index + 1..].contains(figure), "{index}");
        }
    }

    #[test]
    fn cells_and_gap_scale_the_figures() {
        let place = ScorePlace {
            name: "left score".to_owned(),
            element: ElementId(0),
            player: 0,
            x: 50,
            y: 60,
            cell_width: 2,
            cell_height: 5,
            gap: 2,
        };
        let lit = rectangles(&place, 10);
        assert_eq!(lit[0], Rectangle::at((54, 60), (2, 5)), "top cell of the 1");
        assert_eq!(lit[5], Rectangle::at((58, 60), (6, 5)), "top bar of the 0");
        assert_eq!(lit.last(), Some(&Rectangle::at((58, 80), (6, 5))), "bottom bar of the 0");
    }
}

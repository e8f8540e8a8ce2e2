//! Hum bars: how many, and how fast they crawl.
//!
//! A bar comes back to its place after 1 / |field rate − mains|; full-wave rectification makes two of
//! them, half-wave one (any text on television receivers; 12.5 s and 2.6 s are the trade's figures). On
//! a board without a reservoir the hum at the socket is the adapter's own straight-sided ripple, so that
//! the line at which it passes its mean is known to a hundredth of a line in every field.

use crate::boards::fields;
use crate::boards::read;
use crate::crossings::crossings;
use backporch::analysis::clock::beat::Bar;
use backporch::analysis::clock::beat::Way;
use backporch::analysis::supply::in_time::porches;
use backporch::base::math;
use backporch::scenario::Scenario;

/// Clock, lines, and what the adapter does.
struct Case {
    clock: &'static str,
    lines: u32,
    mains: f64,
    rectifier: &'static str,
}

fn board(case: &Case) -> Scenario {
    let Case { clock, lines, mains, rectifier } = case;
    read(&format!(
        "[chip.timing]\nclock = \"{clock}\"\nclocks_per_line = 128\nlines = {lines}\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nhigh_ohms = 1000\nlow_ohms = 1000\n\
         [chip.pattern.bar]\nactive = [{{ lines = [100, 102], clocks = [50, 52] }}]\n\
         [board.V1]\nadapter = \"9 V\"\nresistance = 10\nripple = \"1 V\"\nconduction = 0.4\n\
         phase = 0.3\nrectifier = \"{rectifier}\"\nmains = {mains}\nnode = \"raw\"\n\
         [board.R1]\nresistor = \"1 k\"\nfrom = \"raw\"\nto = \"plug\"\n\
         [board.R2]\nresistor = 470\nfrom = \"sync\"\nto = \"plug\"\n\
         [board.R3]\nresistor = \"1 k\"\nfrom = \"bar\"\nto = \"plug\"\n\
         [output]\nnode = \"plug\"\n[receiver]\nclamp = \"none\"\nbrightness = 0.1\n"
    ))
}

/// Half way between the least and the greatest.
fn middle(values: &[f64]) -> f64 {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    f64::midpoint(least, most)
}

/// Bars in a field, and how far one moves from field to field, s.
fn crawl(case: &Case) -> (usize, f64, f64) {
    let scenario = board(case);
    let timing = &scenario.raster.timing;
    let fields = fields(&scenario, 3);
    let fields: Vec<Vec<f64>> =
        fields.iter().map(|field| porches(&field.traces[0], timing)).collect();
    // The crest lies between two lines, so that what is its height is not the same in every field.
    let middle = middle(&fields[0]);
    let places: Vec<Vec<f64>> = fields.iter().map(|field| crossings(field, middle).0).collect();
    let moves = |from: usize| (places[from + 1][0] - places[from][0]) / timing.line_hz();
    assert!((moves(0) - moves(1)).abs() < 1e-6, "{} {}", moves(0), moves(1));
    (places[0].len(), f64::midpoint(moves(0), moves(1)), 1.0 / timing.field_hz())
}

#[test]
fn bars_crawl_at_the_beat_of_field_and_mains() {
    let cases = [
        ("2 MHz", 312, 50.0, "full", 2, 12.5),
        ("2 MHz", 312, 50.0, "half", 1, 12.5),
        ("2.01216 MHz", 312, 50.0, "full", 2, 2.6),
    ];
    for (clock, lines, mains, rectifier, bars, printed_s) in cases {
        let (found, moves_s, field_s) = crawl(&Case { clock, lines, mains, rectifier });
        assert_eq!(found, bars, "{clock} {rectifier}");
        // It is back after as many fields as its moves go into a period of the mains.
        let period_s = field_s * (1.0 / mains) / moves_s.abs();
        let Bar::Crawls { period_s: wanted_s, way } = Bar::of(1.0 / field_s, mains) else {
            panic!("a bar that crawls")
        };
        assert!((period_s / wanted_s - 1.0).abs() < 0.01, "{clock}: {period_s} {wanted_s}");
        assert!((period_s - printed_s).abs() < 0.06, "{clock}: {period_s}, printed {printed_s}");
        assert_eq!(way == Way::Down, moves_s > 0.0, "{clock}: {moves_s}");
    }
}

#[test]
fn at_sixty_hertz_on_sixty_they_stand() {
    let case = Case { clock: "2.01216 MHz", lines: 262, mains: 60.0, rectifier: "full" };
    let (bars, moves_s, _) = crawl(&case);
    assert_eq!(bars, 2);
    assert!(moves_s.abs() < 1e-7, "{moves_s}");
}

/// Without a clamp black is as bright as the hum makes it: rows of the picture show the bars.
#[test]
fn the_picture_has_two_bars_of_a_bridge_and_one_of_a_single_rectifier() {
    for (rectifier, bars) in [("full", 2), ("half", 1)] {
        let case = Case { clock: "2 MHz", lines: 312, mains: 50.0, rectifier };
        let field = fields(&board(&case), 1).swap_remove(0);
        let picture = &field.reception.picture;
        // The right half of each row, where nothing is lit.
        let rows = picture.luminance.chunks(picture.width).map(|row| {
            let dark = &row[row.len() * 2 / 3..row.len() * 5 / 6];
            dark.iter().map(|&light| f64::from(light)).sum::<f64>() / math::from_usize(dark.len())
        });
        let rows: Vec<f64> = rows.collect();
        let (least, most) =
            rows.iter().fold((f64::INFINITY, 0.0_f64), |(l, m), &v| (l.min(v), m.max(v)));
        assert!(most > 2.0 * least + 1e-3, "{rectifier}: {least} {most}");
        assert_eq!(crossings(&rows, middle(&rows)).0.len(), bars, "{rectifier}");
    }
}

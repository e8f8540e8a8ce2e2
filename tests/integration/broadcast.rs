//! What the game's own clock grid gives beside the windows that broadcasters keep to. A game chip
//! does not meet all of them and never did: this is shown, and nothing is demanded.

use crate::published;
use crate::published::show;

/// What was found in one waveform.
#[derive(Debug)]
pub(crate) struct Measured {
    pub(crate) board: &'static str,
    /// 625 or 525 lines.
    pub(crate) standard: &'static str,
    /// Quantity and value, in the units of the table; `None` if the waveform does not show it.
    pub(crate) values: Vec<(&'static str, Option<f64>)>,
}

/// Shows every measured value beside its window. Every quantity of the table is asked for.
pub(crate) fn report(boards: &[Measured]) {
    let windows = published::rows("broadcast.csv");
    for board in boards {
        show(&format!("\n{}, windows of {} lines", board.board, board.standard));
        for window in windows.iter().filter(|window| window[0] == board.standard) {
            let [_, quantity, unit, nominal, low, high, source] = &window[..] else {
                panic!("{window:?} has not seven columns");
            };
            let value = board.values.iter().find(|(name, _)| name == quantity);
            let (_, value) = value.unwrap_or_else(|| panic!("nobody measures `{quantity}`"));
            let found =
                value.map_or("not visible".to_owned(), |value| format!("{value:.4} {unit}"));
            let word = verdict(*value, low, high);
            show(&format!(
                "  {quantity:<29} {found:>16}  {nominal:>8} ({low:>6} to {high:>6})  \
                 {word:<8} {source}"
            ));
        }
    }
}

fn verdict(value: Option<f64>, low: &str, high: &str) -> &'static str {
    match (value, low.parse::<f64>(), high.parse::<f64>()) {
        // A value on the limit is inside, whatever its last bits.
        (Some(value), Ok(low), Ok(high)) if (low - 1e-6..=high + 1e-6).contains(&value) => "inside",
        (Some(_), Ok(_), Ok(_)) => "outside",
        _ => "",
    }
}

#[test]
fn a_value_is_inside_its_window_or_outside() {
    assert_eq!(verdict(Some(4.47), "4.6", "4.8"), "outside");
    assert_eq!(verdict(Some(4.7), "4.6", "4.8"), "inside");
    assert_eq!(verdict(Some(4.499_999_9), "4.5", "4.9"), "inside");
    assert_eq!(verdict(None, "4.6", "4.8"), "");
    assert_eq!(verdict(Some(30.0), "", ""), "");
}

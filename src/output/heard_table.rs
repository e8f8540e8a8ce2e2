//! What ear and eye tell of the clock, in words.

use crate::analysis::clock::Counts;
use crate::analysis::clock::Rates;
use crate::analysis::clock::beat::Candidate;
use crate::analysis::clock::beat::Seen;
use crate::analysis::clock::tone::Heard;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::clock_table::megahertz;
use crate::output::clock_table::percent;
use crate::output::clock_table::rates_table;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::wrapped;

/// The clock from a tone.
#[must_use]
pub fn tone_table(heard: &Heard, rates: &Rates) -> String {
    let (clock_hz, doubt_hz) = heard.clock_hz();
    let name = heard.tone.name();
    let mut text = format!(
        "{name} tone {} Hz × {}: the clock is {} ± {} ({})\n",
        trimmed(heard.pitch_hz, 2),
        heard.clocks,
        megahertz(clock_hz),
        number(doubt_hz / 1e6, 4),
        percent(doubt_hz / clock_hz, 1).replace('+', "± "),
    );
    text += &wrapped(&format!(
        "a burst of {} ms has a pitch to ± {} Hz; of {} bursts the mean is good to ± {} Hz",
        trimmed(1e3 * heard.burst_s, 1),
        number(0.5 / heard.burst_s, 1),
        heard.bursts,
        number(heard.doubt_hz(), 1),
    ));
    text + &format!("\n{}", rates_table(rates, None))
}

/// The clocks that a bar tells of.
#[must_use]
pub fn beat_table(seen: &Seen, candidates: &[Candidate], counts: Counts) -> String {
    let mut text = String::new();
    let mains = trimmed(seen.mains_hz, 2);
    match seen.period_s {
        Some(period) => {
            let period = trimmed(period, 2);
            text += &format!("a bar that comes round in {period} s on {mains} Hz mains\n\n");
        }
        None => text += &format!("a bar that stands still on {mains} Hz mains\n\n"),
    }
    let mut table = Table::new(vec![
        Column::right("clock"),
        Column::right("known to"),
        Column::right("field"),
        Column::left("the field is"),
    ]);
    for candidate in candidates {
        let side = if seen.period_s.is_none() {
            "the mains exactly"
        } else if candidate.field_hz > seen.mains_hz {
            "faster: the bar goes down, and slows as the core goes in"
        } else {
            "slower: the bar goes up, and hurries as the core goes in"
        };
        table.push(vec![
            megahertz(candidate.clock_hz),
            format!("± {}", megahertz(candidate.doubt_hz)),
            format!("{} Hz", number(candidate.field_hz, 2)),
            side.to_owned(),
        ]);
    }
    text += &table.text();
    let (lines, clocks) = (counts.lines_per_field, counts.clocks_per_line);
    text += &wrapped(&format!("{lines} lines × {clocks} clocks × (mains ± 1 / time)"));
    if candidates.len() == 2 {
        text += &wrapped(
            "two clocks would do it: say which way the bar goes (--bar), or turn the core in a \
             little and say whether the time grew or shrank (--turned-in)",
        );
    }
    text += &wrapped(if seen.period_s.is_some() {
        "follow one bar all the way round: hum at twice the mains shows two of them. Known to: the \
         mains stray by 0.05 Hz, a hand times to 0.3 s (common practice, no source)"
    } else {
        "known to: the mains stray by 0.05 Hz (common practice, no source); a bar that takes a minute \
         to come round stands as well, to the eye"
    });
    text
}

/// What no bar means.
#[must_use]
pub fn no_beat_words(mains_hz: f64, counts: Counts) -> String {
    let clock = megahertz(counts.clocks_per_field() * mains_hz);
    let mains = trimmed(mains_hz, 2);
    format!(
        "On batteries there is no hum, so that no beat can show and none tells of the clock.\n{}{}",
        wrapped(&format!(
            "a bar that is seen all the same comes from the set or a lamp; with an adapter, a bar that \
             stands would mean {clock}, where the field is {mains} Hz exactly"
        )),
        wrapped("listen instead: `backporch clock tone --hit PITCH`"),
    )
}

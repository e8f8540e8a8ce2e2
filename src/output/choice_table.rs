//! Which coil, as a table.

use crate::analysis::clock::choose::Adjuster;
use crate::analysis::clock::choose::Choice;
use crate::analysis::clock::choose::Suits;
use crate::analysis::clock::choose::Wanted;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::clock_table::megahertz;
use crate::output::clock_table::microhenries;
use crate::output::clock_table::picofarads;
use crate::output::clock_table::travel;
use crate::output::clock_table::window;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::wrapped;

impl Suits {
    /// In words, with a shape.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::WindowInMiddle => "● the whole lock window in the middle",
            Self::AimInMiddle => "● the clock in the middle",
            Self::AimInTravel => "◐ the clock near an end",
            Self::Perhaps => "○ out of reach with some strays",
        }
    }
}

/// What is needed, and the values that give it, the best first. `set` is the kind of set.
#[must_use]
pub fn choice_table(wanted: &Wanted, adjuster: Adjuster, choices: &[Choice], set: &str) -> String {
    let (least, most) = wanted.strays;
    let strays = format!("{} to {}", trimmed(1e12 * least, 1), picofarads(most));
    let (farads, aim) = (picofarads(wanted.farads), megahertz(wanted.aim_hz));
    let mut text = format!(
        "{aim} with {farads} on the board and strays of {strays}, for a {set} that locks \
                 from {} MHz\n",
        window(wanted.locks)
    );
    let (more, what) = match adjuster {
        Adjuster::Core(range) => {
            (0.0, format!("screw-core coils, ± {} %", trimmed(100.0 * range, 1)))
        }
        Adjuster::Trimmer(low, high) => (
            f64::midpoint(low, high),
            format!(
                "fixed chokes with a trimmer of {} to {}",
                trimmed(1e12 * low, 1),
                picofarads(high)
            ),
        ),
    };
    let [high, middle, low] = wanted.henries(more).map(microhenries);
    let trimmer = if more > 0.0 { ", the trimmer half way" } else { "" };
    text += &format!("needed{trimmer}: {middle} ({low} to {high} by the strays)\n\n");
    text += &format!("{what}, {}\n", wanted.series.name());
    if choices.is_empty() {
        return text + &wrapped(&nothing(adjuster));
    }
    let mut table = Table::new(vec![
        Column::right("coil"),
        Column::left("suits"),
        Column::right("clock at, of the travel"),
        Column::right("lock window"),
        Column::right("reaches, MHz"),
    ]);
    for choice in choices {
        table.push(vec![
            microhenries(choice.henries),
            choice.suits.words().to_owned(),
            span([choice.aim[1], choice.aim[0]]),
            span(choice.window),
            window(choice.reach),
        ]);
    }
    text += &table.text();
    text + &notes(wanted, adjuster)
}

fn span([low, high]: [f64; 2]) -> String {
    format!("{} to {}", number(100.0 * low, 0), travel(high))
}

fn nothing(adjuster: Adjuster) -> String {
    match adjuster {
        Adjuster::Core(_) => {
            "none of that series reaches it: try a finer --series, a wider \
                              --core-range, or a capacitor beside the one on the board"
        }
        Adjuster::Trimmer(..) => {
            "none of that series reaches it: try a finer --series or a larger \
                                  trimmer"
        }
    }
    .to_owned()
}

fn notes(wanted: &Wanted, adjuster: Adjuster) -> String {
    let mut text = wrapped(
        "travel: 0 % core out or least capacitance, 100 % in or most; middle: 20 to 80 %, whatever \
         the strays; a marked coil value is taken for the core half way in",
    );
    if let Adjuster::Trimmer(low, high) = adjuster {
        let farads = wanted.farads + f64::midpoint(wanted.strays.0, wanted.strays.1);
        let swing = ((farads + high) / (farads + low)).sqrt() - 1.0;
        text += &wrapped(&format!(
            "the trimmer pulls the clock by {} % in all; a choke that is 10 % off moves it by 5 %: \
             measure the choke, or have two or three to try",
            number(100.0 * swing, 1)
        ));
    }
    text
}

//! A modulator's carrier as a table with bars, for the terminal.

use crate::analysis::modulation::BUZZ_CARRIER;
use crate::analysis::modulation::Buzz;
use crate::analysis::modulation::CarrierLevel;
use crate::analysis::modulation::Modulation;
use crate::analysis::modulation::WhiteWord;
use crate::base::math;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::millivolts;
use crate::output::table::seen_words;
use crate::output::table::signed_millivolts;
use crate::path::system::Window;

/// Characters of a bar for the whole carrier.
const BAR: f64 = 25.0;

/// Channel, carriers with their bars, what white and the sound come to.
#[must_use]
pub fn modulation_table(modulation: &Modulation) -> String {
    let table = carrier_table(modulation).text();
    format!("{}\n\n{table}\n{}\n", heading(modulation), words(modulation))
}

/// A row for each level, with its bar.
pub(crate) fn carrier_table(modulation: &Modulation) -> Table {
    let data = modulation.system.data();
    let mut table = Table::new(vec![
        Column::left("carrier at"),
        Column::right("input mV"),
        Column::right("carrier %"),
        Column::left("meant %"),
        Column::right("received mV"),
        Column::left("seen"),
        Column::left("0 % to 100 %"),
    ]);
    let mut row = |level: &CarrierLevel, meant: String, received: String, seen: String| {
        table.push(vec![
            level.name.clone(),
            millivolts(level.volts),
            percent(level.carrier),
            meant,
            received,
            seen,
            bar(level.carrier),
        ]);
    };
    row(&modulation.tip, "100".to_owned(), String::new(), String::new());
    let depth = millivolts(modulation.depth_v);
    row(&modulation.black, range(&data.blanking), depth, String::new());
    for element in &modulation.elements {
        let received = signed_millivolts(element.delta_v);
        row(&element.level, String::new(), received, seen_words(element.seen));
    }
    let white = CarrierLevel { name: white_name(modulation), ..modulation.white.clone() };
    row(&white, range(&data.white), String::new(), String::new());
    table
}

/// "Modulator, system B/G, channel E3: vision 55.25 MHz, sound 60.75 MHz".
pub(crate) fn heading(modulation: &Modulation) -> String {
    let (system, channel) = (modulation.system.data(), modulation.channel);
    let megahertz = |hertz: f64| trimmed(1e-6 * hertz, 2);
    format!(
        "Modulator, system {}, channel {}: vision {} MHz, sound {} MHz",
        system.name,
        channel.name(),
        megahertz(channel.vision_hz()),
        megahertz(channel.vision_hz() + system.sound_hz)
    )
}

/// "white (field)".
pub(crate) fn white_name(modulation: &Modulation) -> String {
    format!("white ({})", modulation.white.name)
}

/// What white, the gain control and the sound come to, a line each.
pub(crate) fn words(modulation: &Modulation) -> String {
    let white = percent(modulation.white.carrier);
    let first = match modulation.word {
        WhiteWord::Crushed => format!(
            "White crushed: {white} % of carrier are left. Whites run into one, milky; raise the feed \
             resistor."
        ),
        WhiteWord::TooBright => {
            format!("White too bright: {white} % of carrier are left. Raise the feed resistor.")
        }
        WhiteWord::Good => format!("White good: {white} % of carrier are left."),
        WhiteWord::Dim => format!(
            "White dim: {white} % of carrier are left, no harm. A lower feed resistor makes it \
             brighter."
        ),
    };
    let gain = if (modulation.peak - 1.0).abs() < 0.05 {
        String::new()
    } else {
        format!(
            " The greatest carrier is {} % of the full one; the gain control makes up for it.",
            percent(modulation.peak)
        )
    };
    let blanking = modulation.system.data().blanking;
    let black = if modulation.black.carrier < blanking.low {
        "\nBlack has less carrier than meant: a set that holds the tip shows it grey."
    } else if modulation.black.carrier > blanking.high {
        "\nBlack has more carrier than meant: sync is shallow."
    } else {
        ""
    };
    let sync = modulation.sync.word();
    let depth = millivolts(modulation.depth_v);
    format!(
        "{first}{gain}\nSync {sync}: {depth} mV deep behind the gain control, 300 are meant.{black}\n{}",
        buzz_words(&modulation.buzz)
    )
}

/// The estimate in words.
pub(crate) fn buzz_words(buzz: &Buzz) -> String {
    if !buzz.is_heard() {
        return format!(
            "No buzz: the carrier is never below {} %.",
            trimmed(100.0 * BUZZ_CARRIER, 1)
        );
    }
    format!(
        "Buzz at the field rate, about {} dB against the sound (an estimate):\nthe carrier is below {} % \
         for {} % of the time.",
        number(buzz.level_db, 0),
        trimmed(100.0 * BUZZ_CARRIER, 1),
        trimmed(100.0 * buzz.share, 1)
    )
}

/// What a modulator must never be used for.
pub const CAUTION: &str = "\
Never feed a modulator into an aerial, nor run it with its can open: by a shielded lead to one set only.
In the USA a TV interface device may put out 3.0 mV rms into 75 Ω (47 CFR 15.115).";

pub(crate) fn percent(share: f64) -> String {
    number(100.0 * share, 1)
}

fn range(window: &Window) -> String {
    format!("{} to {}", trimmed(100.0 * window.low, 1), trimmed(100.0 * window.high, 1))
}

fn bar(share: f64) -> String {
    let cells = math::floor_index(BAR * share.clamp(0.0, 1.2) + 0.5);
    if cells == 0 { "|".to_owned() } else { "█".repeat(cells) }
}

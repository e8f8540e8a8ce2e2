//! What becomes of the carrier: how much of it is left at the tip, at black and at white, what the set
//! gets of each element, and whether the sound will buzz.

use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::network::circuit::Circuit;
use crate::network::error::NetworkError;
use crate::path::gain::MOST_GAIN;
pub use crate::path::spec::BUZZ_CARRIER;
use crate::path::spec::PathSpec;
use crate::path::spec::missing_beat;
use crate::path::system::Channel;
use crate::path::system::System;
use crate::path::system::Window;
use crate::raster::generate::Raster;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use crate::simulate::RunError;

/// What stands for a sound without buzz, dB.
pub const NO_BUZZ_DB: f64 = -99.0;
/// How far past an end of a window still counts as inside it.
const ROUNDING: f64 = 1e-9;

/// A modulator's carrier, by standing levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Modulation {
    /// The system.
    pub system: System,
    /// The channel.
    pub channel: Channel,
    /// The greatest carrier as a share of the full one; all other carriers are shares of this.
    pub peak: f64,
    /// In the sync pulse.
    pub tip: CarrierLevel,
    /// Nothing lit.
    pub black: CarrierLevel,
    /// Each element alone, in the chip's order.
    pub elements: Vec<ElementCarrier>,
    /// The least carrier of anything that is lit in the first field.
    pub white: CarrierLevel,
    /// The word for it.
    pub word: WhiteWord,
    /// Black over the tip behind detector and gain control, V.
    pub depth_v: f64,
    /// The word for it.
    pub sync: SyncState,
    /// What the sound suffers.
    pub buzz: Buzz,
}

/// A level at the modulator's input, and the carrier there.
#[derive(Clone, Debug, PartialEq)]
pub struct CarrierLevel {
    /// What is lit, "tip" or "black".
    pub name: String,
    /// At the input, V.
    pub volts: f64,
    /// Share of the peak.
    pub carrier: f64,
}

/// An element alone on black.
#[derive(Clone, Debug, PartialEq)]
pub struct ElementCarrier {
    /// Its level.
    pub level: CarrierLevel,
    /// Above black behind detector and gain control, V.
    pub delta_v: f64,
    /// The word for it.
    pub seen: Seen,
    /// What else there is to say.
    pub notes: Vec<Note>,
}

/// How white stands to what the system allows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhiteWord {
    /// The carrier is all but gone: below [`BUZZ_CARRIER`].
    Crushed,
    /// Less carrier than the system allows.
    TooBright,
    /// As it should be.
    Good,
    /// More carrier: a picture darker than it could be.
    Dim,
}

impl WhiteWord {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Crushed => "crushed",
            Self::TooBright => "too bright",
            Self::Good => "good",
            Self::Dim => "dim",
        }
    }

    fn of(carrier: f64, window: &Window) -> Self {
        if carrier < BUZZ_CARRIER - ROUNDING {
            Self::Crushed
        } else if carrier < window.low - ROUNDING {
            Self::TooBright
        } else if carrier <= window.high + ROUNDING {
            Self::Good
        } else {
            Self::Dim
        }
    }
}

/// An estimate of the buzz that a picture makes in the sound.
///
/// An intercarrier set takes the beat of sound and vision carrier. Where the vision carrier c falls
/// below c₀ = 5 % of its peak, the beat is taken to fall with it: d = max(0, 1 − c / c₀) of it is
/// missing. That comes and goes with the picture, at the field rate and its harmonics; its root mean
/// square about the mean, √(Σ p d² − (Σ p d)²) over shares p of the time, is told against the whole
/// beat.
///
/// # Source
///
/// That the beat needs the carrier, and 5 %: receiver theory, from memory. The formula is this
/// program's own estimate, good for comparing boards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Buzz {
    /// Share of the time for which the carrier is below [`BUZZ_CARRIER`].
    pub share: f64,
    /// The level, dB against the whole beat; [`NO_BUZZ_DB`] if there is none.
    pub level_db: f64,
}

impl Buzz {
    /// The estimate for carriers, each with its share of the time; the rest of the time they are
    /// higher.
    #[must_use]
    pub fn of(carriers: &[(f64, f64)]) -> Self {
        let (mut share, mut mean, mut square) = (0.0, 0.0, 0.0);
        for &(carrier, time) in carriers {
            let missing = missing_beat(carrier);
            if missing > ROUNDING {
                share += time;
                mean += time * missing;
                square += time * missing * missing;
            }
        }
        let variance = square - mean * mean;
        let level_db = if variance > 0.0 { 10.0 * math::log10(variance) } else { NO_BUZZ_DB };
        Self { share, level_db: level_db.max(NO_BUZZ_DB) }
    }

    /// Whether there is any.
    #[must_use]
    pub fn is_heard(&self) -> bool {
        self.share > 0.0
    }
}

/// How long what is lit in a field, as shares of the field; what is never lit is left out.
pub(crate) type Shares = Vec<(ElementSet, f64)>;

/// Solves a scenario's board for its modulator; `None` if it has none.
///
/// # Errors
///
/// A board that cannot be solved, or a chip's plan that contradicts itself.
pub fn modulation(scenario: &Scenario) -> Result<Option<Modulation>, RunError> {
    let Some(modulator) = &scenario.modulator else { return Ok(None) };
    let shares = lit_shares(scenario)?;
    Ok(Some(modulation_of(scenario, &modulator.path, &scenario.circuit, &shares)?))
}

/// What is lit in the first field, and how long.
pub(crate) fn lit_shares(scenario: &Scenario) -> Result<Shares, RunError> {
    let trains = Raster::new(&scenario.raster)?.advance_field();
    let (map, timing) = (&trains.map, &trains.timing);
    let clock = 1.0 / math::from_u64(timing.clocks_per_field());
    let mut shares: Shares = Vec::new();
    for line in 0..timing.lines_per_field {
        let patches = map.line(line);
        let start = patches.iter().map(|patch| patch.start).min().unwrap_or(0);
        let stop = patches.iter().map(|patch| patch.stop).max().unwrap_or(0);
        for lit in (start..stop).map(|at| map.lit(line, at)).filter(|lit| !lit.is_empty()) {
            match shares.iter_mut().find(|(known, _)| *known == lit) {
                Some((_, share)) => *share += clock,
                None => shares.push((lit, clock)),
            }
        }
    }
    Ok(shares)
}

/// Volts at the modulator's input.
struct Standing {
    tip_v: f64,
    black_v: f64,
    /// Each element alone.
    alone_v: Vec<f64>,
    /// What is lit in the field, in the order of the shares.
    lit_v: Vec<f64>,
}

impl Standing {
    fn solve(
        scenario: &Scenario,
        circuit: &Circuit,
        shares: &Shares,
    ) -> Result<Self, NetworkError> {
        let levels = Levels::new(scenario, circuit)?;
        let node = scenario.output.node;
        let volts = |on: ElementSet| -> Result<f64, NetworkError> {
            Ok(levels.solve(on, LinePart::Active)?.volts(node))
        };
        let alone = (0_u8..).take(scenario.raster.elements.len()).map(ElementId);
        Ok(Self {
            tip_v: levels.solve(ElementSet::EMPTY, LinePart::Sync)?.volts(node),
            black_v: levels.black().volts(node),
            alone_v: alone.map(|id| volts(ElementSet::only(id))).collect::<Result<_, _>>()?,
            lit_v: shares.iter().map(|(on, _)| volts(*on)).collect::<Result<_, _>>()?,
        })
    }

    fn all(&self) -> impl Iterator<Item = f64> {
        let lit = self.alone_v.iter().chain(&self.lit_v).copied();
        [self.tip_v, self.black_v].into_iter().chain(lit)
    }
}

/// As [`modulation`], for an edited board with the same pins.
pub(crate) fn modulation_of(
    scenario: &Scenario,
    path: &PathSpec,
    circuit: &Circuit,
    shares: &Shares,
) -> Result<Modulation, NetworkError> {
    let standing = Standing::solve(scenario, circuit, shares)?;
    let peak = peak(path, standing.all());
    let carrier = |volts: f64| path.carrier(volts) / peak;
    let level = |name: &str, volts: f64| CarrierLevel {
        name: name.to_owned(),
        volts,
        carrier: carrier(volts),
    };
    let tip = level("sync tip", standing.tip_v);
    let black = level("black", standing.black_v);
    let brightest = shares.iter().zip(&standing.lit_v).max_by(|a, b| a.1.total_cmp(b.1));
    let white = brightest
        .map_or_else(|| black.clone(), |((on, _), &volts)| level(&names_of(scenario, *on), volts));
    let timed = shares.iter().zip(&standing.lit_v);
    let carriers: Vec<(f64, f64)> =
        timed.map(|((_, share), &volts)| (carrier(volts), *share)).collect();
    let depth_v = path.volts_per_carrier() * (tip.carrier - black.carrier);
    Ok(Modulation {
        system: path.system,
        channel: path.channel,
        peak,
        elements: element_carriers(scenario, path, (peak, black.volts), &standing.alone_v),
        word: WhiteWord::of(white.carrier, &path.system.data().white),
        sync: scenario.received.sync(depth_v),
        buzz: Buzz::of(&carriers),
        tip,
        black,
        white,
        depth_v,
    })
}

fn names_of(scenario: &Scenario, on: ElementSet) -> String {
    let names = &scenario.raster.elements;
    let named = on.iter().filter_map(|id| names.get(usize::from(id.0)));
    named.map(String::as_str).collect::<Vec<&str>>().join("+")
}

fn element_carriers(
    scenario: &Scenario,
    path: &PathSpec,
    (peak, black_v): (f64, f64),
    volts: &[f64],
) -> Vec<ElementCarrier> {
    let names = &scenario.raster.elements;
    let deltas = received_deltas(path, peak, black_v, volts);
    let field = names.iter().position(|name| name == "field");
    let element = |(index, name): (usize, &String)| {
        let against_v = field.filter(|&field| field != index).map(|field| deltas[field]);
        ElementCarrier {
            level: CarrierLevel {
                name: name.clone(),
                volts: volts[index],
                carrier: path.carrier(volts[index]) / peak,
            },
            delta_v: deltas[index],
            seen: scenario.received.seen(deltas[index]),
            notes: scenario.received.notes(deltas[index], against_v),
        }
    };
    names.iter().enumerate().map(element).collect()
}

/// The greatest carrier of all that is sent, share of full; never less than gain control makes up for.
fn peak(path: &PathSpec, volts: impl Iterator<Item = f64>) -> f64 {
    volts.map(|volts| path.carrier(volts)).fold(1.0 / MOST_GAIN, f64::max)
}

/// What levels amount to above black behind detector and gain control, V.
fn received_deltas(path: &PathSpec, peak: f64, black_v: f64, volts: &[f64]) -> Vec<f64> {
    let received = |volts: f64| path.detected_v(path.carrier(volts) / peak);
    volts.iter().map(|&volts| received(volts) - received(black_v)).collect()
}

/// What elements that stand so far above black at the output amount to at the set's video input, V:
/// the same without a modulator.
pub(crate) fn at_video_input(
    scenario: &Scenario,
    levels: &Levels<'_>,
    deltas_v: &[f64],
) -> Result<Vec<f64>, NetworkError> {
    let Some(modulator) = &scenario.modulator else { return Ok(deltas_v.to_vec()) };
    let node = scenario.output.node;
    let black_v = levels.black().volts(node);
    let tip_v = levels.solve(ElementSet::EMPTY, LinePart::Sync)?.volts(node);
    let volts: Vec<f64> = deltas_v.iter().map(|delta_v| black_v + delta_v).collect();
    let all = [tip_v, black_v].into_iter().chain(volts.iter().copied());
    Ok(received_deltas(&modulator.path, peak(&modulator.path, all), black_v, &volts))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A carrier that is gone for a quarter of the time: d is 1 or 0, √(p (1 − p)) = 0.433, −7.27 dB.
    #[test]
    fn buzz_is_the_root_mean_square_of_what_comes_and_goes() {
        let buzz = Buzz::of(&[(0.0, 0.25), (0.3, 0.2)]);
        assert!((buzz.level_db - 20.0 * math::log10(0.1875_f64.sqrt())).abs() < 1e-9);
        assert!((buzz.share - 0.25).abs() < 1e-12 && buzz.is_heard());
        // Half gone, for so short a time that the mean is nothing: 20 log10(0.5 √0.0001) = −46.02.
        let short = Buzz::of(&[(0.025, 1e-4)]);
        assert!((short.level_db + 46.02).abs() < 0.01, "{}", short.level_db);
    }

    #[test]
    fn five_percent_of_carrier_do_not_buzz() {
        let buzz = Buzz::of(&[(0.05, 0.5), (0.10, 0.5)]);
        assert!(!buzz.is_heard() && (buzz.level_db - NO_BUZZ_DB).abs() < 1e-9);
    }

    #[test]
    fn words_begin_at_the_ends_of_the_window() {
        let window = System::Bg.data().white;
        for (carrier, word) in [
            (0.0, WhiteWord::Crushed),
            (0.049, WhiteWord::Crushed),
            (0.05, WhiteWord::TooBright),
            (0.099, WhiteWord::TooBright),
            (0.10, WhiteWord::Good),
            (0.15, WhiteWord::Good),
            (0.16, WhiteWord::Dim),
        ] {
            assert_eq!(WhiteWord::of(carrier, &window), word, "{carrier}");
        }
    }
}

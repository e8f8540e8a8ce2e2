//! What was read at the pin, and how far that may be off.

use thiserror::Error;

/// High or low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// The pin pulls up.
    High,
    /// The pin pulls down.
    Low,
}

impl State {
    /// In words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::High => "high",
            Self::Low => "low",
        }
    }
}

/// A resistor from the pin to ground or to a rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// Its value, Ω.
    pub ohms: f64,
    /// Where its other end is, V; 0 for ground.
    pub rail_v: f64,
}

/// One reading of the meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What it shows, V.
    pub volts: f64,
    /// What hung on the pin beside the meter; `None` for nothing.
    pub load: Option<Load>,
}

/// The readings of one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Inputs {
    /// The chip's supply, V.
    pub supply_v: f64,
    /// The open reading, then those with a load.
    pub readings: Vec<Reading>,
}

/// How far meter and resistors may be off. Limits, not deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubts {
    /// Of what the meter shows, share.
    pub share: f64,
    /// And its last figure, V.
    pub figure_v: f64,
    /// Of the resistors, share.
    pub tolerance: f64,
    /// What the meter itself draws through, Ω.
    pub meter_ohms: f64,
}

/// Readings that no pin gives.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum PinError {
    /// Only the open volts.
    #[error("the {} pin was read open only", .state.word())]
    OpenOnly {
        /// Which state.
        state: State,
    },
    /// A load moved the pin the wrong way, or not at all.
    #[error(
        "the {} pin reads {} V into {} Ω to {} V, which does not lie between its {} V open and \
         that",
        .state.word(), .volts, .load.ohms, .load.rail_v, .open_v
    )]
    WrongWay {
        /// Which state.
        state: State,
        /// Which reading, 0 the open one.
        reading: usize,
        /// What was read, V.
        volts: f64,
        /// Into what.
        load: Load,
        /// The open reading, V.
        open_v: f64,
    },
    /// A high pin above its supply.
    #[error("the high pin reads {open_v} V open, above the chip's supply of {supply_v} V")]
    AboveSupply {
        /// The open reading, V.
        open_v: f64,
        /// The supply, V.
        supply_v: f64,
    },
    /// The open low pin is not low.
    #[error("the low pin reads {open_v} V open, above half the chip's supply of {supply_v} V")]
    NotLow {
        /// The open reading, V.
        open_v: f64,
        /// The supply, V.
        supply_v: f64,
    },
    /// The search for a model ended nowhere.
    #[error("no resistance above zero gives the readings of the {} pin", .state.word())]
    NoFit {
        /// Which state.
        state: State,
    },
}

impl Doubts {
    /// Standard deviation of a reading, V: the limits taken as even spreads, a / √3.
    ///
    /// # Source
    ///
    /// JCGM 100:2008 (GUM), 4.3.7; the two parts are independent.
    #[must_use]
    pub fn of_volts(&self, volts: f64) -> f64 {
        let share = self.share * volts;
        ((share * share + self.figure_v * self.figure_v) / 3.0).sqrt()
    }

    /// Standard deviation of a resistor, Ω.
    #[must_use]
    pub fn of_ohms(&self, ohms: f64) -> f64 {
        self.tolerance * ohms / 3.0_f64.sqrt()
    }
}

impl Inputs {
    /// Whether a pin can give these readings.
    ///
    /// # Errors
    ///
    /// [`PinError`] for the first that it cannot.
    pub fn check(&self, state: State, doubts: &Doubts) -> Result<(), PinError> {
        let supply_v = self.supply_v;
        let open_v = self.open_v();
        let doubt_v = doubts.share * (open_v.abs() + supply_v) + doubts.figure_v;
        match state {
            State::High if open_v > supply_v + doubt_v => {
                return Err(PinError::AboveSupply { open_v, supply_v });
            }
            State::Low if open_v > 0.5 * supply_v => {
                return Err(PinError::NotLow { open_v, supply_v });
            }
            _ => {}
        }
        if self.readings.len() < 2 {
            return Err(PinError::OpenOnly { state });
        }
        for (reading, Reading { volts, load }) in self.readings.iter().copied().enumerate() {
            let Some(load) = load else { continue };
            let share = (open_v - volts) / (open_v - load.rail_v);
            if !(share > 0.0 && share < 1.0) {
                return Err(PinError::WrongWay { state, reading, volts, load, open_v });
            }
        }
        Ok(())
    }

    /// The open reading, V; 0 if there is none.
    #[must_use]
    pub fn open_v(&self) -> f64 {
        self.readings.first().map_or(0.0, |open| open.volts)
    }

    /// Standard deviation of everything that was measured: the supply, then volts, ohms and rail
    /// of each reading.
    #[must_use]
    pub fn deviations(&self, doubts: &Doubts) -> Vec<f64> {
        let mut all = vec![doubts.of_volts(self.supply_v)];
        for Reading { volts, load } in &self.readings {
            all.push(doubts.of_volts(*volts));
            all.push(load.map_or(0.0, |load| doubts.of_ohms(load.ohms)));
            // Ground is no reading.
            let rail = load.filter(|load| load.rail_v != 0.0);
            all.push(rail.map_or(0.0, |load| doubts.of_volts(load.rail_v)));
        }
        all
    }

    /// The same readings with the one of that place in [`Inputs::deviations`] moved by `by`.
    #[must_use]
    pub fn moved(&self, index: usize, by: f64) -> Self {
        let mut moved = self.clone();
        let Some(place) = index.checked_sub(1) else {
            moved.supply_v += by;
            return moved;
        };
        let reading = &mut moved.readings[place / 3];
        match (place % 3, &mut reading.load) {
            (0, _) => reading.volts += by,
            (1, Some(load)) => load.ohms += by,
            (_, Some(load)) => load.rail_v += by,
            (_, None) => {}
        }
        moved
    }

    /// How far each reading may be from what a pin would give: its own deviation, and what the
    /// resistor's does to a pin of these volts.
    #[must_use]
    pub fn deviations_of_readings(&self, doubts: &Doubts) -> Vec<f64> {
        let open_v = self.open_v();
        let of_one = |reading: &Reading| {
            let meter = doubts.of_volts(reading.volts);
            let resistor = reading.load.map_or(0.0, |load| {
                let share = (open_v - reading.volts) / (open_v - load.rail_v);
                doubts.of_ohms(1.0) * share * (reading.volts - load.rail_v)
            });
            // A meter without doubt still has to be divided by.
            (meter * meter + resistor * resistor).sqrt().max(1e-9)
        };
        self.readings.iter().map(of_one).collect()
    }
}

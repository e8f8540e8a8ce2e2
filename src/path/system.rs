//! The systems of negative modulation, and where their channels lie.

/// A system of transmission.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// 625 lines, most of Europe.
    Bg,
    /// 625 lines, the British Isles.
    I,
    /// 525 lines, the Americas.
    M,
}

/// A share of peak carrier and what is allowed of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// What is meant.
    pub nominal: f64,
    /// The least.
    pub low: f64,
    /// The most.
    pub high: f64,
}

/// What a system says of levels and frequencies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SystemData {
    /// "B/G".
    pub name: &'static str,
    /// Carrier at blanking, share of peak.
    pub blanking: Window,
    /// Carrier at peak white, share of peak.
    pub white: Window,
    /// Width of the sideband that is not sent whole, Hz.
    pub vestige_hz: f64,
    /// Width of the sideband that is, Hz.
    pub main_hz: f64,
    /// Sound carrier above vision carrier, Hz.
    pub sound_hz: f64,
}

/// Most that a TV interface device may put out into 75 Ω at the vision carrier, V rms.
///
/// # Source
///
/// 47 CFR 15.115(b)(1)(ii): 346.4 µV times the root of the resistance in ohms.
pub const OUTPUT_LIMIT_V: f64 = 3.0e-3;
/// Level from which most sets are free of noise, V rms at 75 Ω.
///
/// # Source
///
/// A maker's application note on modulators for games.
pub const NOISE_FREE_V: f64 = 1.0e-3;

impl System {
    /// Each with the word a scenario has for it.
    pub const NAMED: [(&'static str, Self); 3] = [("BG", Self::Bg), ("I", Self::I), ("M", Self::M)];

    /// What the standard says.
    ///
    /// # Source
    ///
    /// ITU-R BT.470: B/G and M; I from BT.470-6 table 3, from memory. White of B/G is 10 % in
    /// makers' receiver data; the standard's range is 10 to 15 %.
    #[must_use]
    pub const fn data(self) -> SystemData {
        match self {
            Self::Bg => SystemData {
                name: "B/G",
                blanking: Window { nominal: 0.75, low: 0.725, high: 0.775 },
                white: Window { nominal: 0.10, low: 0.10, high: 0.15 },
                vestige_hz: 0.75e6,
                main_hz: 5.0e6,
                sound_hz: 5.5e6,
            },
            Self::I => SystemData {
                name: "I",
                blanking: Window { nominal: 0.76, low: 0.74, high: 0.78 },
                white: Window { nominal: 0.20, low: 0.18, high: 0.22 },
                vestige_hz: 1.25e6,
                main_hz: 5.5e6,
                sound_hz: 6.0e6,
            },
            Self::M => SystemData {
                name: "M",
                blanking: Window { nominal: 0.75, low: 0.725, high: 0.775 },
                white: Window { nominal: 0.125, low: 0.10, high: 0.15 },
                vestige_hz: 0.75e6,
                main_hz: 4.2e6,
                sound_hz: 4.5e6,
            },
        }
    }
}

/// A channel: where its vision carrier lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Channel {
    /// VHF, Europe, system B: "E3", "E4".
    E(u8),
    /// VHF, the Americas, system M: "A3", "A4". Not those of Europe.
    A(u8),
    /// UHF in 8 MHz steps, 21 to 69: "36".
    Uhf(u8),
}

impl Channel {
    /// Reads "E3", "A4" or "36"; `None` for any other.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "E3" => Some(Self::E(3)),
            "E4" => Some(Self::E(4)),
            "A3" => Some(Self::A(3)),
            "A4" => Some(Self::A(4)),
            _ => {
                let number = name.parse::<u8>().ok();
                number.filter(|number| (21..=69).contains(number)).map(Self::Uhf)
            }
        }
    }

    /// Where a game of this system would usually be.
    #[must_use]
    pub fn usual(system: System) -> Self {
        match system {
            System::Bg => Self::E(3),
            System::I => Self::Uhf(36),
            System::M => Self::A(3),
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::E(number) => format!("E{number}"),
            Self::A(number) => format!("A{number}"),
            Self::Uhf(number) => number.to_string(),
        }
    }

    /// Whether a system is sent there.
    #[must_use]
    pub fn carries(self, system: System) -> bool {
        match self {
            Self::E(_) => system == System::Bg,
            Self::A(_) => system == System::M,
            Self::Uhf(_) => system != System::M,
        }
    }

    /// Vision carrier, Hz.
    ///
    /// # Source
    ///
    /// Channel tables of national frequency plans, two independent ones for UHF: 303.25 MHz + 8 MHz
    /// times the number (CCIR systems G, H, I, K: 471.25 MHz for 21); CCIR system B: E3 55.25, E4
    /// 62.25; the Americas: 61.25 and 67.25, 1.25 MHz above the channel's lower edge (47 CFR
    /// 73.682(a)(2)).
    #[must_use]
    pub fn vision_hz(self) -> f64 {
        match self {
            Self::E(number) => 55.25e6 + 7e6 * (f64::from(number) - 3.0),
            Self::A(number) => 61.25e6 + 6e6 * (f64::from(number) - 3.0),
            Self::Uhf(number) => 303.25e6 + 8e6 * f64::from(number),
        }
    }
}

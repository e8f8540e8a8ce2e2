//! Passive parts as they come out of the drawer: capacitors with losses and age, the laws of
//! potentiometers, contacts.

use crate::network::circuit::NodeId;

/// A capacitor with its losses, its age and its ratings.
///
/// The capacitance `farads * farads_left` with the leakage across it, both in series with
/// `series_ohms * series_factor`: i = dq/dt + u / leakage with q = C u, and
/// v = u + i R for the voltage v between the ends.
///
/// # Source
///
/// The usual equivalent circuit of an electrolytic capacitor, as in makers' application notes.
#[derive(Clone, Debug, PartialEq)]
pub struct RealCapacitor {
    /// The two ends; `ends[0]` is the plus end.
    pub ends: [NodeId; 2],
    /// Rated capacitance, F.
    pub farads: f64,
    /// Share of it that age has left, above 0.
    pub farads_left: f64,
    /// Series resistance when new, Ω, 0 or more.
    pub series_ohms: f64,
    /// How much age has multiplied it.
    pub series_factor: f64,
    /// Leakage resistance, Ω; `None` for none.
    pub leakage_ohms: Option<f64>,
    /// Rated voltage, V; `None` if it is not known.
    pub rated_volts: Option<f64>,
    /// Whether it may stand either way round.
    pub polarity: CapacitorPolarity,
}

/// Whether a capacitor has a plus end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CapacitorPolarity {
    /// Either way round.
    None,
    /// `ends[0]` has to be the more positive.
    Polar,
}

impl RealCapacitor {
    /// Capacitance that is left, F.
    #[must_use]
    pub fn present_farads(&self) -> f64 {
        self.farads * self.farads_left
    }

    /// Series resistance that it has by now, Ω.
    #[must_use]
    pub fn present_series_ohms(&self) -> f64 {
        self.series_ohms * self.series_factor
    }
}

/// Share of a potentiometer's track that lies between its start and its wiper at a share `travel`
/// of its travel; `middle` is that share at half travel.
///
/// Two straight pieces that meet at half travel: carbon tracks with a law are printed in pieces of
/// different resistivity. 0.5 is a linear track, 0.1 to 0.15 an audio taper, 0.85 to 0.9 its
/// reverse.
///
/// # Source
///
/// 10 % at half travel: makers' pages on audio tapers; 15 %: from memory.
#[must_use]
pub fn track_share(travel: f64, middle: f64) -> f64 {
    if travel <= 0.5 {
        2.0 * travel * middle
    } else {
        middle + (2.0 * travel - 1.0) * (1.0 - middle)
    }
}

/// State of a switch or a jumper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContactState {
    /// It conducts.
    Closed,
    /// It does not.
    Open,
}

/// What an open contact leaves, Ω.
pub const OPEN_CONTACT_OHMS: f64 = 1e9;

/// Resistance of a contact in its present state, Ω.
#[must_use]
pub fn contact_ohms(state: ContactState, closed_ohms: f64) -> f64 {
    match state {
        ContactState::Closed => closed_ohms,
        ContactState::Open => OPEN_CONTACT_OHMS,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math;
    use crate::network::circuit::Circuit;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::step_error;
    use crate::signal::pulse_train::Level;

    const A: NodeId = NodeId(1);

    /// 1 µF by its label, of which age has left 1 nF; series 50 Ω three times over.
    fn aged(leakage_ohms: Option<f64>) -> Circuit {
        let part = RealCapacitor {
            ends: [A, NodeId::GROUND],
            farads: 1e-6,
            farads_left: 1e-3,
            series_ohms: 50.0,
            series_factor: 3.0,
            leakage_ohms,
            rated_volts: None,
            polarity: CapacitorPolarity::None,
        };
        circuit(&["ground", "a"], vec![pin(1, 1e3), PartKind::RealCapacitor(Box::new(part))])
    }

    #[test]
    fn a_step_into_an_aged_capacitor_jumps_over_its_series_resistance_and_then_charges() {
        let lag_s = (1e3 + 150.0) * 1e-9;
        let error =
            step_error(&aged(None), 1, |t| 5.0 * (1.0 - 1e3 / 1150.0 * math::exp(-t / lag_s)));
        assert!(error < 50e-6, "{error}");
    }

    #[test]
    fn a_leaky_capacitor_divides_what_stands() {
        let network = Network::new(&aged(Some(3850.0))).unwrap();
        let point = network.operating_point(&[Level::HIGH]).unwrap();
        assert!((point.volts(A) - 5.0 * 4e3 / 5e3).abs() < 1e-9);
    }

    #[test]
    fn a_step_into_a_lossy_coil_divides_over_its_parallel_resistance_and_decays_to_its_series_one()
    {
        let (across, series) = (4e3, 25.0);
        let coil = PartKind::LossyInductor {
            ends: [A, NodeId::GROUND],
            henries: 1e-3,
            ohms: series,
            parallel_ohms: across,
        };
        let board = circuit(&["ground", "a"], vec![pin(1, 1e3), coil]);
        // Source 1025 Ω up to the coil proper, whose current rises to 5/1025 A.
        let driven = 1e3 + series;
        let lag_s = 1e-3 * (1.0 / driven + 1.0 / across);
        let error = step_error(&board, 1, |t| {
            let coil_v = 5.0 * across / (driven + across) * math::exp(-t / lag_s);
            coil_v + (5.0 - coil_v) * series / driven
        });
        assert!(error < 50e-6, "{error}");
    }

    fn divider(kind: PartKind) -> Circuit {
        let supply = PartKind::Supply { node: A, volts: 10.0, ohms: 0.0 };
        let load = PartKind::Resistor { ends: [NodeId(2), NodeId::GROUND], ohms: 1e6 };
        circuit(&["ground", "a", "b"], vec![supply, kind, load])
    }

    fn volts_at_b(board: &Circuit) -> f64 {
        Network::new(board).unwrap().operating_point(&[]).unwrap().volts(NodeId(2))
    }

    #[test]
    fn a_wiper_takes_its_share_by_law_and_nothing_when_it_has_lost_the_track() {
        let track = |position, middle, contact_ohms| {
            divider(PartKind::Trimmer {
                ends: [NodeId::GROUND, A],
                wiper: NodeId(2),
                ohms: 1e3,
                position,
                middle,
                contact_ohms,
            })
        };
        // Loaded by 1 MΩ: 10 V times the share, behind share (1 − share) 1 kΩ.
        let loaded = |share: f64| 10.0 * share / (1.0 + share * (1.0 - share) * 1e-3);
        assert!((volts_at_b(&track(0.5, 0.5, 0.0)) - loaded(0.5)).abs() < 1e-9);
        assert!((volts_at_b(&track(0.5, 0.1, 0.0)) - loaded(0.1)).abs() < 1e-9);
        assert!((volts_at_b(&track(0.75, 0.1, 0.0)) - loaded(0.55)).abs() < 1e-9);
        assert!(volts_at_b(&track(0.5, 0.5, OPEN_CONTACT_OHMS)) < 6e-3);
    }

    #[test]
    fn a_contact_joins_when_closed_and_parts_when_open() {
        let contact = |state| PartKind::Contact { ends: [A, NodeId(2)], ohms: 0.05, state };
        assert!((volts_at_b(&divider(contact(ContactState::Closed))) - 10.0).abs() < 1e-6);
        assert!(volts_at_b(&divider(contact(ContactState::Open))) < 11e-3);
    }

    #[test]
    fn a_law_meets_its_ends_and_its_middle_and_never_turns_back() {
        for middle in [0.1, 0.125, 0.15, 0.5, 0.875] {
            assert!(track_share(0.0, middle).abs() < 1e-15);
            assert!((track_share(0.5, middle) - middle).abs() < 1e-15);
            assert!((track_share(1.0, middle) - 1.0).abs() < 1e-15);
            let shares = (0..=100).map(|step| track_share(f64::from(step) / 100.0, middle));
            assert!(shares.is_sorted());
        }
    }

    #[test]
    fn the_reverse_law_is_the_audio_law_from_the_other_end() {
        for step in 0..=20 {
            let travel = f64::from(step) / 20.0;
            let reverse = track_share(travel, 0.875);
            assert!((reverse - (1.0 - track_share(1.0 - travel, 0.125))).abs() < 1e-12);
        }
    }
}

//! The built-in chips. All are invented: generic members of a class, a copy of none.

use crate::base::diagnostic::Source;
use crate::document::problems::Problems;
use crate::document::syntax::parse;
use crate::profile;
use crate::profile::Profile;
use crate::signal::timing::FieldTiming;
use std::sync::Arc;

/// Names and texts of the built-in profiles.
pub const BUILTIN: [(&str, &str); 4] = [
    ("two-player-50", include_str!("../../scenarios/chips/two-player-50.toml")),
    ("two-player-60", include_str!("../../scenarios/chips/two-player-60.toml")),
    ("combined-50", include_str!("../../scenarios/chips/combined-50.toml")),
    ("open-drain-60", include_str!("../../scenarios/chips/open-drain-60.toml")),
];

/// The text of a built-in profile.
#[must_use]
pub fn text(name: &str) -> Option<&'static str> {
    BUILTIN.iter().find(|(known, _)| *known == name).map(|(_, text)| *text)
}

/// A built-in chip by its name.
#[must_use]
pub fn chip(name: &str) -> Option<Profile> {
    let text = text(name)?.to_owned();
    let parsed = parse(&Arc::new(Source { name: name.to_owned(), text }));
    profile::read(&parsed.root, &Problems::default())
}

/// The timing of a built-in chip.
#[must_use]
pub fn timing(name: &str) -> Option<FieldTiming> {
    chip(name).map(|chip| chip.timing)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::timing::FieldSync;

    fn built_in(name: &str) -> Profile {
        let text = text(name).unwrap().to_owned();
        let parsed = parse(&Arc::new(Source { name: name.to_owned(), text }));
        let problems = Problems::default();
        let profile = profile::read(&parsed.root, &problems);
        assert_eq!(problems.into_sorted(), [], "{name}");
        profile.unwrap()
    }

    #[test]
    fn the_50_hz_chip_has_lines_of_64_microseconds() {
        let timing = built_in("two-player-50").timing;
        assert_eq!(timing.clock.picoseconds(u64::from(timing.clocks_per_line)), 64_000_000);
        assert!((timing.field_hz() - 50.080_128).abs() < 1e-6);
        assert_eq!((timing.active_start, timing.active_stop), (21, 125));
    }

    #[test]
    fn the_60_hz_chip_has_exactly_60_fields_a_second() {
        let timing = built_in("two-player-60").timing;
        assert_eq!(timing.clock.picoseconds(timing.clocks_per_field()), 16_666_666_667);
    }

    #[test]
    fn the_built_in_chips_show_every_form_of_field_sync() {
        let form = |name| built_in(name).timing.field_sync;
        assert_eq!(form("two-player-50"), FieldSync::Inverted);
        assert_eq!(form("two-player-60"), FieldSync::Held);
        assert_eq!(form("combined-50"), FieldSync::Broad { gap: 9 });
    }

    #[test]
    fn scores_and_paddles_lie_within_the_lines_of_the_court() {
        for (name, _) in BUILTIN {
            for (_, court) in built_in(name).courts {
                let bottom = court.field.y + court.field.height;
                for paddle in &court.paddles {
                    assert_eq!(
                        (paddle.top, paddle.bottom + paddle.height),
                        (court.field.y, bottom)
                    );
                }
                for score in &court.scores {
                    assert!(score.y >= court.field.y && score.y + 5 * score.cell_height <= bottom);
                }
            }
        }
    }
}

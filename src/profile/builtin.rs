//! The built-in chips. All are invented: generic members of a class, a copy of none.

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

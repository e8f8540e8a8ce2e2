//! Chip profiles.

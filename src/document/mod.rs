//! What the user wrote, with the place of every word kept: TOML as a tree in file order, values as
//! they are printed on parts, and all mistakes collected instead of the first one only.
//!
//! Nothing here knows what a scenario or a profile is; both are read with it.

pub mod decimal;
pub mod fields;
pub mod near;
pub mod problems;
pub mod quantity;
pub mod syntax;
pub mod tree;
pub mod values;

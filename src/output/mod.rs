//! Results into bytes: one file for each format, into `impl Write`.

pub mod axis;
pub mod check_json;
pub mod check_table;
pub mod checked;
pub mod circuit_view;
pub mod compare_json;
pub mod compare_table;
pub mod compare_view;
pub mod csv;
pub mod element_names;
pub mod field_view;
pub mod font;
pub mod hunt_json;
pub mod hunt_table;
pub mod json;
pub mod junit;
pub mod label;
pub mod ladder_json;
pub mod line_view;
pub mod page;
pub mod panel;
mod part_words;
pub mod plot;
pub mod png;
pub mod rating_json;
pub mod rating_table;
#[cfg(test)]
mod sample;
pub mod strip;
pub mod table;
pub mod thin;
pub mod vcd;
pub mod wav;
pub mod wav_read;
pub mod why_json;
pub mod why_table;
pub mod why_view;

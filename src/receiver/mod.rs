//! What the set makes of the waveform. It sees samples and nothing else.

pub mod spec;

//! The frame of clocks and lines that a chip hangs its picture on.

use crate::base::ticks::ClockRate;

/// How the chip marks the start of a field on its sync signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldSync {
    /// Sync stays asserted for whole lines; no line edges inside.
    Held,
    /// Line pulses inverted: asserted through the line, released where the line pulse would be.
    Inverted,
    /// Two broad pulses a line: asserted but for a gap of this many clocks before each half line.
    Broad {
        /// Released clocks at the end of each half line.
        gap: u32,
    },
}

/// Timing of one non-interlaced field.
///
/// # Units
///
/// Clock periods within a line, counted from the leading edge of line sync; lines from the first
/// line of field sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FieldTiming {
    /// The chip's clock.
    pub clock: ClockRate,
    /// Clocks in a line.
    pub clocks_per_line: u32,
    /// Lines in a field.
    pub lines_per_field: u32,
    /// Width of the line sync pulse, clocks.
    pub line_sync: u32,
    /// First clock of the active line: end of the back porch.
    pub active_start: u32,
    /// First clock of the front porch: end of the active line.
    pub active_stop: u32,
    /// Form of field sync.
    pub field_sync: FieldSync,
    /// Lines of field sync, from line 0.
    pub field_sync_lines: u32,
    /// First line that may carry picture.
    pub first_active_line: u32,
}

impl FieldTiming {
    /// Clocks in a field.
    #[must_use]
    pub fn clocks_per_field(&self) -> u64 {
        u64::from(self.clocks_per_line) * u64::from(self.lines_per_field)
    }

    /// Line rate, Hz.
    #[must_use]
    pub fn line_hz(&self) -> f64 {
        self.clock.hertz() / f64::from(self.clocks_per_line)
    }

    /// Field rate, Hz.
    #[must_use]
    pub fn field_hz(&self) -> f64 {
        self.line_hz() / f64::from(self.lines_per_field)
    }

    /// Where `clock` of `line` lies, in ticks from the start of the field.
    #[must_use]
    pub fn tick(&self, line: u32, clock: u32) -> u64 {
        u64::from(line) * u64::from(self.clocks_per_line) + u64::from(clock)
    }
}

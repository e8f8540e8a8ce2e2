//! The command line.

#[cfg_attr(not(test), expect(dead_code, reason = "no command reads a scenario yet"))]
pub(crate) mod report_diagnostics;

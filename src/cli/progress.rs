//! How far a long run has come: nothing in the first second, nothing when piped.

use indicatif::ProgressBar;
use indicatif::ProgressDrawTarget;
use indicatif::ProgressStyle;
use std::time::Duration;
use std::time::Instant;

/// Counts fields.
#[derive(Debug)]
pub(crate) struct Progress {
    bar: ProgressBar,
    since: Instant,
}

impl Progress {
    /// Starts counting, out of sight.
    pub(crate) fn new(fields: u32) -> Self {
        let bar =
            ProgressBar::with_draw_target(Some(u64::from(fields)), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{pos} of {len} fields, {eta} left {msg}") {
            bar.set_style(style);
        }
        Self { bar, since: Instant::now() }
    }

    /// Names what is under way; shows itself once a second has passed.
    pub(crate) fn stage(&self, what: &'static str) {
        if self.bar.is_hidden() && self.since.elapsed() > Duration::from_secs(1) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.set_message(what);
    }

    /// One field is done.
    pub(crate) fn field_done(&self) {
        self.bar.inc(1);
    }

    /// All is done; the line is wiped.
    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

//! How far a long run has come: nothing in the first second, nothing when piped.

use indicatif::ProgressBar;
use indicatif::ProgressDrawTarget;
use indicatif::ProgressStyle;
use std::time::Duration;
use std::time::Instant;

/// Counts what is done of many like things.
#[derive(Debug)]
pub(crate) struct Progress {
    bar: ProgressBar,
    since: Instant,
}

impl Progress {
    /// Starts counting, out of sight; `things` names them: "fields".
    pub(crate) fn new(things: &str) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        let template = format!("{{pos}} of {{len}} {things}, {{eta}} left {{msg}}");
        if let Ok(style) = ProgressStyle::with_template(&template) {
            bar.set_style(style);
        }
        Self { bar, since: Instant::now() }
    }

    /// As [`Progress::new`], for a known number of fields.
    pub(crate) fn fields(fields: u32) -> Self {
        let progress = Self::new("fields");
        progress.bar.set_length(u64::from(fields));
        progress
    }

    /// Names what is under way.
    pub(crate) fn stage(&self, what: &'static str) {
        self.show();
        self.bar.set_message(what);
    }

    /// So many are done, of so many.
    pub(crate) fn come_to(&self, done: usize, of: usize) {
        self.show();
        self.bar.set_length(u64::try_from(of).unwrap_or(u64::MAX));
        self.bar.set_position(u64::try_from(done).unwrap_or(u64::MAX));
    }

    /// One field is done.
    pub(crate) fn field_done(&self) {
        self.bar.inc(1);
    }

    /// All is done; the line is wiped.
    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }

    /// Shows itself once a second has passed.
    fn show(&self) {
        if self.bar.is_hidden() && self.since.elapsed() > Duration::from_secs(1) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
}

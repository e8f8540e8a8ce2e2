//! Ctrl-C. What is on its way to a file is taken away; a long run that says so keeps what is done.

use crate::cli::files;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

/// Exit status of a program that was interrupted.
const INTERRUPTED: i32 = 130;

static WATCHED: AtomicBool = AtomicBool::new(false);
static ASKED: AtomicBool = AtomicBool::new(false);

/// Ctrl-C from now on ends the program without leaving anything half written.
pub(crate) fn guard() {
    // Where no handler can be set, Ctrl-C ends the program as it always does.
    let _ = ctrlc::set_handler(|| {
        if WATCHED.load(Ordering::Relaxed) && !ASKED.swap(true, Ordering::Relaxed) {
            return;
        }
        files::abandon(|| std::process::exit(INTERRUPTED));
    });
}

/// From now on a first Ctrl-C asks instead of ending the program; a second one ends it.
pub(crate) fn watch() {
    WATCHED.store(true, Ordering::Relaxed);
}

/// Whether the user has asked for an end.
pub(crate) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}

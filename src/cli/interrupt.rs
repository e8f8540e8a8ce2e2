//! Ctrl-C on a long run: what is done is kept whole, and the user is told.

use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

static ASKED: AtomicBool = AtomicBool::new(false);

/// From now on Ctrl-C asks instead of ending the program; a second one ends it.
pub(crate) fn watch() {
    const INTERRUPTED: i32 = 130;
    // Where no handler can be set, Ctrl-C ends the program as it always does.
    let _ = ctrlc::set_handler(|| {
        if ASKED.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    });
}

/// Whether the user has asked for an end.
pub(crate) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}

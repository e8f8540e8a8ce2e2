//! Ctrl-C. What is on its way to a file is taken away; a long run that says so keeps what is done.

use crate::cli::files;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

/// Exit status of a program that was interrupted.
const INTERRUPTED: i32 = 130;

static WATCHED: AtomicBool = AtomicBool::new(false);
static ASKED: AtomicBool = AtomicBool::new(false);
static WAKE: OnceLock<Box<dyn Fn() + Send + Sync>> = OnceLock::new();

/// Ctrl-C from now on ends the program without leaving anything half written.
pub(crate) fn guard() {
    // Where no handler can be set, Ctrl-C ends the program as it always does.
    let _ = ctrlc::set_handler(|| {
        if WATCHED.load(Ordering::Relaxed) && !ASKED.swap(true, Ordering::Relaxed) {
            if let Some(wake) = WAKE.get() {
                wake();
            }
            return;
        }
        files::abandon(|| std::process::exit(INTERRUPTED));
    });
}

/// From now on a first Ctrl-C asks instead of ending the program; a second one ends it.
pub(crate) fn watch() {
    WATCHED.store(true, Ordering::Relaxed);
}

/// The same for who does not look but waits: the first Ctrl-C calls `wake`, in a thread of its own.
pub(crate) fn call(wake: impl Fn() + Send + Sync + 'static) {
    // Only the first caller is woken: one run waits for one thing.
    let _ = WAKE.set(Box::new(wake));
    watch();
}

/// Whether the user has asked for an end.
pub(crate) fn asked() -> bool {
    ASKED.load(Ordering::Relaxed)
}

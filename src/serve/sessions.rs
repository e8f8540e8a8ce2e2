//! The tabs that have the page open.

use crate::cli::failure::Failure;
use crate::serve::desk::Seen;
use crate::serve::guard::random_text;
use crate::serve::session::Session;
use crate::serve::session::Settings;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;

/// Tabs that are remembered; of more, the one that was silent longest is forgotten.
const MOST: usize = 64;

/// A tab.
#[derive(Debug)]
pub(crate) struct Tab {
    /// By which its page calls it.
    pub(crate) name: String,
    session: Mutex<Session>,
    /// One board of a tab is worked out at a time, so that one that was overtaken never is.
    pub(crate) turn: tokio::sync::Mutex<()>,
    /// The picture that was answered last, with the number of its request, until it is read.
    seen: Mutex<Option<(u64, Seen)>>,
}

impl Tab {
    /// Its settings.
    pub(crate) fn session(&self) -> MutexGuard<'_, Session> {
        // A session is changed by moves only: one that a panic left is whole.
        self.session.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The picture that was answered last; what is put there takes its place.
    pub(crate) fn seen(&self) -> MutexGuard<'_, Option<(u64, Seen)>> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// All of them, the one that spoke last at the end.
#[derive(Debug, Default)]
pub(crate) struct Sessions(Mutex<Vec<Arc<Tab>>>);

impl Sessions {
    /// The tab of that name.
    pub(crate) fn find(&self, name: &str) -> Option<Arc<Tab>> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = all.iter().position(|tab| tab.name == name)?;
        let tab = all.remove(at);
        all.push(Arc::clone(&tab));
        Some(tab)
    }

    /// A new one.
    pub(crate) fn open(&self, start: Settings) -> Result<Arc<Tab>, Failure> {
        let tab = Arc::new(Tab {
            name: random_text()?,
            session: Mutex::new(Session::new(start)),
            turn: tokio::sync::Mutex::default(),
            seen: Mutex::default(),
        });
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() == MOST {
            all.remove(0);
        }
        all.push(Arc::clone(&tab));
        Ok(tab)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tab_that_was_silent_longest_is_forgotten_first() {
        let sessions = Sessions::default();
        let first = sessions.open(Vec::new()).unwrap();
        let second = sessions.open(Vec::new()).unwrap();
        for _ in 0..MOST - 2 {
            sessions.open(Vec::new()).unwrap();
        }
        assert!(sessions.find(&first.name).is_some());
        sessions.open(Vec::new()).unwrap();
        assert!(sessions.find(&first.name).is_some() && sessions.find(&second.name).is_none());
        assert!(sessions.find("").is_none());
    }
}

//! A program that runs beside a test, and ends with it however the test ends.

use std::process::Child;
use std::process::Command;
use std::process::Output;

/// A child process that is killed where it is left.
pub(crate) struct Running(Option<Child>);

impl Running {
    /// Starts a program.
    pub(crate) fn new(command: &mut Command) -> Self {
        Self(Some(command.spawn().unwrap()))
    }

    pub(crate) fn child(&mut self) -> &mut Child {
        self.0.as_mut().expect("it has not been waited for")
    }

    /// Ctrl-C.
    pub(crate) fn interrupt(&mut self) {
        let pid = self.child().id().to_string();
        assert!(Command::new("kill").args(["-INT", &pid]).status().unwrap().success());
    }

    /// Waits until it ends, and what it has said.
    pub(crate) fn output(mut self) -> Output {
        // If that fails the child has ended or cannot be reached any more.
        self.0.take().expect("it has not been waited for").wait_with_output().unwrap()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if let Some(child) = &mut self.0 {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

#[test]
fn a_program_that_is_left_by_a_panic_has_ended() {
    let mut id = 0;
    let panic = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        let mut sleeper = Running::new(Command::new("sleep").arg("600"));
        id = sleeper.child().id();
        assert!(sleeper.child().try_wait().unwrap().is_some(), "it sleeps");
    }));
    assert!(panic.is_err() && id != 0);
    let there = Command::new("kill").args(["-0", &id.to_string()]).output().unwrap();
    assert!(!there.status.success(), "{id} is running");
}

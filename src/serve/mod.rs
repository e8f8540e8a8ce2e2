//! `live`: the page of a board, served to this machine alone.
//!
//! ```text
//! guard    who may ask: loopback, this server's own page, the token
//! routes   what is asked, and the answer as bytes
//! sessions a browser tab's settings, with undo
//! desk     settings to pictures and words, by the engine that `render` uses
//! save     settings to a variant beside the scenario
//! ```
//!
//! The page works nothing out: it sends what was turned, and shows what comes back.

pub(crate) mod desk;
mod guard;
mod reply;
mod routes;
mod save;
mod session;
mod sessions;

use crate::cli::failure::Failure;
use crate::cli::interrupt;
use crate::serve::desk::Desk;
use crate::serve::guard::Guard;
use crate::serve::routes::Bench;
use axum::Router;
use std::net::Ipv4Addr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// How long answers that are under way may take when the server is asked to end.
const PATIENCE: Duration = Duration::from_secs(3);
/// Boards that are worked out at once; each uses all cores where it can.
const WORKERS: usize = 4;

/// Serves a board on a port of the loopback address, 0 for a free one, until Ctrl-C. `say` is told the address.
pub(crate) fn run(
    desk: Desk,
    port: u16,
    say: &dyn Fn(&str) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .max_blocking_threads(WORKERS)
        .build()
        .map_err(|error| Failure::world("the server", &error))?;
    let done = runtime.block_on(serve(desk, port, say));
    runtime.shutdown_timeout(PATIENCE);
    done
}

async fn serve(
    desk: Desk,
    port: u16,
    say: &dyn Fn(&str) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let place = format!("{}:{port}", Ipv4Addr::LOCALHOST);
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
        .await
        .map_err(|error| Failure::world(&place, &error))?;
    let bound = listener.local_addr().map_err(|error| Failure::world(&place, &error))?;
    let guard = Guard::new(bound.port())?;
    let stop = on_interrupt();
    say(&guard.address())?;
    let bench = Arc::new(Bench::new(desk, guard));
    let router = Router::new().fallback(routes::answer).with_state(bench);
    let asked = stop.clone();
    let server = axum::serve(listener, router).with_graceful_shutdown(wanted(asked));
    let overdue = async {
        wanted(stop).await;
        tokio::time::sleep(PATIENCE).await;
    };
    tokio::select! {
        done = server.into_future() => done.map_err(|error| Failure::world(&place, &error)),
        () = overdue => Ok(()),
    }
}

/// Becomes true with Ctrl-C.
fn on_interrupt() -> watch::Receiver<bool> {
    let (sender, receiver) = watch::channel(false);
    interrupt::call(move || {
        sender.send_replace(true);
    });
    receiver
}

async fn wanted(mut stop: watch::Receiver<bool>) {
    // The sender belongs to the handler, which is there as long as the program.
    let _ = stop.wait_for(|asked| *asked).await;
}

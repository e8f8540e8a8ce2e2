//! `live`: a page on which every part can be turned.

use crate::cli;
use crate::cli::args::LiveArgs;
use crate::cli::failure::Failure;
use crate::serve;
use crate::serve::desk::Desk;

/// Answers `live`: serves until Ctrl-C.
pub(crate) fn run(args: &LiveArgs) -> Result<(), Failure> {
    let desk = Desk::open(&args.board)?;
    serve::run(desk, args.port, &|address| {
        cli::print(&format!(
            "The board is on the bench, for this machine alone, at\n\n  {address}\n\nCtrl-C ends it.\n"
        ))
    })?;
    cli::print("Ended.\n")
}

//! The one kind of change that `--set`, variants and the analyses make to a resolved scenario.

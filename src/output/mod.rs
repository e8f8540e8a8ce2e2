//! Results into bytes: one file for each format, into `impl Write`.

//! The command line as a user meets it: published numbers, help examples,
//! JSON keys, and bad input.

// A test that cannot go on has failed.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod commands;

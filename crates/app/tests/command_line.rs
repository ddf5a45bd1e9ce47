//! The command line as a user meets it: published numbers, help examples,
//! JSON keys, and bad input.

mod commands;

//! What a benchbook keeps, refuses and proves: one file for each promise.
//! One program, because each links the database anew.

#[path = "../invented/mod.rs"]
mod invented;

mod append_only;
mod backup;
mod imports;
mod opening;
mod people;
mod register;
mod released_shapes;
mod round_trip;
mod two_writers;
mod verification;

//! What a benchbook keeps, refuses and proves: one file for each promise.
//! One program, because each links the database anew.

#[path = "../invented/mod.rs"]
mod invented;

#[cfg(unix)]
#[path = "../database_server/mod.rs"]
mod database_server;

mod append_only;
mod backup;
#[cfg(unix)]
mod database;
#[cfg(unix)]
mod encrypted;
mod imports;
mod opening;
mod people;
mod register;
mod released_shapes;
mod round_trip;
mod two_writers;
mod verification;

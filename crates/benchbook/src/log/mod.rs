//! The log: what makes a change of the past visible to people who hold an
//! earlier checkpoint.

mod base64;
pub(crate) mod checkpoint;
pub(crate) mod merkle;
pub(crate) mod proof;

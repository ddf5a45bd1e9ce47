//! The log: a Merkle tree over the history whose root, once it has left the
//! machine, nobody can change unseen.

pub(crate) mod base64;
pub(crate) mod checkpoint;
pub(crate) mod key;
pub(crate) mod merkle;
pub(crate) mod note;
pub(crate) mod proof;

//! What is kept beside the runs: the register of positive controls and flow
//! standards, the records of units, and attached files.

mod attachments;
mod items;
mod units;

pub use attachments::{Attachment, NewFile};
pub use items::{Certificate, CheckKind, ItemKind, ItemState, LastCheck, RegisterItem};
pub use units::{UnitRecord, UnitRecordKind};

/// A name that is part of a subject: no spaces, so that lines of a state stay
/// apart.
fn as_subject(name: &str) -> String {
    name.chars().map(|c| if c.is_whitespace() || c.is_control() { '_' } else { c }).collect()
}

//! Benchbook: one file that holds many cases, and the only room that touches
//! the store.
//!
//! Nothing in it is ever changed or removed: a change is a new version beside
//! the old one, and an event in the history. What is read is compared with the
//! hash under which it was written.
//!
//! ```
//! use benchbook::{Benchbook, Moment};
//!
//! # #[tokio::main(flavor = "current_thread")]
//! # async fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let folder = tempfile::tempdir()?;
//! # let path = folder.path().join("first.benchbook");
//! let now = Moment { utc: "2026-11-25T01:02:03Z".to_owned(), actor: "A. Analyst".to_owned() };
//! let book = Benchbook::create(&path, &now).await?;
//! book.add_case(&study::worked_cases::syringe(), &now).await?;
//! let case = book.case("syringe-1ml").await?;
//! assert_eq!(case.input, study::worked_cases::syringe());
//! book.close().await;
//! # Ok(())
//! # }
//! ```

mod backup;
mod book;
mod cases;
mod columns;
mod copy;
mod digest;
mod entries;
mod errors;
mod export;
mod history;
mod log;
mod moment;
mod people;
mod records;
mod register;
mod samples;
mod signatures;
mod store;
mod stored;
mod verify;
mod writing;

/// What is called from outside is made into machine code here, once, and not
/// again in every program and every test that calls it: it gives its future on
/// the heap. Written for functions that call themselves, it serves this as well.
pub(crate) use async_recursion::async_recursion as boxed;
pub use book::Benchbook;
pub use cases::CaseSummary;
pub use copy::CopyProof;
pub use errors::BenchbookError;
pub use export::CaseTexts;
pub use history::HistoryEvent;
pub use log::checkpoint::{Checkpoint, CheckpointError};
pub use log::key::{LogKey, LogKeyError};
pub use log::note::{NoteSignature, SignedCheckpoint, VerifierKey};
pub use log::proof::EventProof;
pub use moment::Moment;
pub use people::{Account, Action, MATRIX, NewAccount, Refusal, Role, SessionLimits, Sessions};
pub use records::Import;
pub use register::{
    Attachment, Certificate, CheckKind, ItemKind, ItemState, LastCheck, NewFile, RegisterItem,
    UnitRecord, UnitRecordKind,
};
pub use signatures::{AuditChange, Meaning, OpenItem, Signature, ToSign};
pub use store::place::{is_database, shown};
pub use verify::{Finding, Verification, verify, verify_signed};

//! People: accounts, roles and what they may do, passwords, lock-out,
//! sessions.

mod account;
mod acting;
mod lock_out;
mod password;
mod refusal;
mod role;
mod session;

pub use account::{Account, NewAccount};
pub(crate) use account::{AccountShape, BenchbookOrStore, first_account};
pub(crate) use acting::Acting;
pub use refusal::Refusal;
pub use role::{Action, MATRIX, Role};
pub use session::{SessionLimits, Sessions};

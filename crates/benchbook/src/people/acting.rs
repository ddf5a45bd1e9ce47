//! Whoever works: an account whose password was given.

use std::fmt;

/// The hands in which a benchbook is.
#[derive(Clone)]
pub(crate) struct Acting {
    /// The account.
    pub(crate) account: String,
    /// Its printed name.
    pub(crate) name: String,
}

impl fmt::Debug for Acting {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.account)
    }
}

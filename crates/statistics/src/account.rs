//! The account of a result: by which method it was found, what counts in it,
//! what it supposes and what remains to be done.
//!
//! Every result of this crate gives its account through one trait, so that a
//! table, a document or a program prints all of them in the same way. The
//! account is derived from the result itself and needs no data a second time.

use crate::note::{Assumption, Note};

/// What counts in a result: the number on which its confidence rests.
///
/// That is often not the number of readings. Three lots of twenty units are
/// three for a limit of a future lot; readings repeated on one unit are one.
#[derive(Debug, Clone, PartialEq)]
pub struct Counted {
    /// The number that counts; may be broken where it is an effective number.
    /// `None` where the result rests on stated figures and on no data.
    pub number: Option<f64>,
    /// What was counted, as a noun phrase: "lots (60 readings)". Where there is
    /// no number, what the result rests on instead.
    pub what: String,
}

impl Counted {
    /// So many of something.
    #[must_use]
    pub fn of(number: usize, what: impl Into<String>) -> Self {
        Self { number: Some(number as f64), what: what.into() }
    }

    /// An effective number; none where it is not finite.
    #[must_use]
    pub fn effective(number: f64, what: impl Into<String>) -> Self {
        Self { number: number.is_finite().then_some(number), what: what.into() }
    }

    /// No data: the result rests on figures that were stated.
    #[must_use]
    pub fn stated(basis: impl Into<String>) -> Self {
        Self { number: None, what: basis.into() }
    }
}

/// A result that says how it came about.
///
/// The four answers hold for this result and not for its method in general:
/// an assumption that could be checked on the data has its outcome, one that
/// could not is named with the check that would look at it.
///
/// ```
/// use statistics::Account;
/// use statistics::tolerance_limits::upper_limit_from_summary;
///
/// let limit = upper_limit_from_summary(13.0, 4.3, 135, 0.999, 0.95).unwrap();
/// assert!(limit.method().contains("noncentral t"));
/// assert_eq!(limit.counted().number, Some(135.0));
/// assert!(limit.assumptions().iter().any(|assumption| assumption.name.contains("normal")));
/// assert!(limit.notes().iter().all(|note| !note.next_step.is_empty()));
/// ```
pub trait Account {
    /// Name of the method with what fixes it, as a noun phrase for a report.
    fn method(&self) -> &str;
    /// The number that counts, and of what.
    fn counted(&self) -> Counted;
    /// What the method supposes, each with the outcome of its check.
    fn assumptions(&self) -> Vec<Assumption>;
    /// What was seen, each with a next step.
    fn notes(&self) -> Vec<Note>;
}

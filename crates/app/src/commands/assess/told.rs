//! What a result tells of itself: the account of a result of the statistics
//! room, or of one that a command worked out by itself.

use statistics::{Account, Assumption, Counted};
use study::Note;

use crate::answer::from_statistics;

/// The account of one result under the name that the command gives it.
#[derive(Clone)]
pub struct Told {
    /// Name of the result.
    pub result: String,
    /// Name of its method.
    pub method: String,
    /// The number that counts.
    pub counted: Counted,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Notes.
    pub notes: Vec<Note>,
}

/// The account of a result.
pub fn told(result: impl Into<String>, account: &dyn Account) -> Told {
    Told {
        result: result.into(),
        method: account.method().to_owned(),
        counted: account.counted(),
        assumptions: account.assumptions(),
        notes: from_statistics(account.notes()),
    }
}

impl Told {
    /// A result that the command worked out by itself.
    pub fn own(result: &str, method: &str, counted: Counted, assumptions: Vec<Assumption>) -> Self {
        Self {
            result: result.to_owned(),
            method: method.to_owned(),
            counted,
            assumptions,
            notes: Vec::new(),
        }
    }

    /// The same without a note that speaks of a figure which is not shown.
    pub fn without_note(mut self, code: &str) -> Self {
        self.notes.retain(|note| note.code != code);
        self
    }

    /// The same with the method named as the command names it.
    pub fn by(mut self, method: impl Into<String>) -> Self {
        self.method = method.into();
        self
    }

    /// The number that counts with what was counted, as words.
    pub fn counts(&self) -> String {
        match self.counted.number {
            None => self.counted.what.clone(),
            Some(number) if number.fract() == 0.0 => format!("{number} {}", self.counted.what),
            Some(number) => format!("{number:.1} {}", self.counted.what),
        }
    }
}

/// Assumptions of all results beside those that the command checked: an open
/// line gives way to a check of the same kind, and nothing is said twice.
pub fn joined(mut list: Vec<Assumption>, told: &[Told]) -> Vec<Assumption> {
    let all = || told.iter().flat_map(|told| told.assumptions.iter());
    let done = all().filter(|a| a.held.is_some());
    for assumption in done.chain(all().filter(|a| a.held.is_none())) {
        let known = list.iter().any(|other| {
            other.name == assumption.name || (assumption.held.is_none() && alike(other, assumption))
        });
        if !known {
            list.push(assumption.clone());
        }
    }
    list
}

/// Whether two lines name the same kind of check.
fn alike(first: &Assumption, second: &Assumption) -> bool {
    // What a plan has to say is something else for each line.
    let plan = "from the plan";
    first.test != plan
        && (first.test.starts_with(second.test) || second.test.starts_with(first.test))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(assumptions: Vec<Assumption>) -> Told {
        Told::own("x", "a method", Counted::of(3, "lots"), assumptions)
    }

    #[test]
    fn a_check_that_was_made_replaces_the_open_line() {
        let open = Assumption::unchecked("normal values", "Shapiro-Wilk", "only a summary");
        let made = Assumption::tested("normal lots", "Shapiro-Wilk of lots", 0.3, 0.05, "W = 1.");
        let list = joined(vec![made.clone()], &[one(vec![open.clone()])]);
        assert_eq!(list, std::slice::from_ref(&made));
        // Also where another result of the same command made it.
        let list = joined(Vec::new(), &[one(vec![open.clone()]), one(vec![made.clone()])]);
        assert_eq!(list, [made]);
        let plan = |name| Assumption::unchecked(name, "from the plan", "not in the data");
        assert_eq!(joined(Vec::new(), &[one(vec![open, plan("a"), plan("b")])]).len(), 3);
    }

    #[test]
    fn effective_numbers_keep_one_digit() {
        assert_eq!(one(Vec::new()).counts(), "3 lots");
        let broken = Told { counted: Counted::effective(3.26, "trials"), ..one(Vec::new()) };
        assert_eq!(broken.counts(), "3.3 trials");
    }
}

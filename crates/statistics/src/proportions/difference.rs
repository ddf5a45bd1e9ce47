//! Difference of two independent proportions.

use super::bounds::wilson;
use crate::account::{Account, Counted};
use crate::cannot_say::CannotSay;
use crate::note::{Assumption, Note};

/// Difference of two proportions with its interval.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Difference {
    /// First proportion less the second.
    pub difference: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Confidence.
    pub confidence: f64,
    /// Number of units on both sides.
    pub n: u64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Difference {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.n as f64, "units on both sides together")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "trials independent, with one probability on each side",
                "from the plan",
                "counts do not show it; state how the units were drawn",
            ),
            Assumption::unchecked(
                "different units on both sides",
                "from the plan",
                "the same units read twice are pairs and need another method",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Interval of a difference of proportions from two score intervals.
///
/// Source: R. G. Newcombe, Stat. Med. 17 (1998) 873, method 10.
///
/// # Errors
/// As [`wilson`].
pub fn newcombe(
    first: (u64, u64),
    second: (u64, u64),
    confidence: f64,
) -> Result<Difference, CannotSay> {
    let a = wilson(first.0, first.1, confidence)?;
    let b = wilson(second.0, second.1, confidence)?;
    let (p, q) = (first.0 as f64 / first.1 as f64, second.0 as f64 / second.1 as f64);
    let joined = |x: f64, y: f64| (x * x + y * y).sqrt();
    let mut notes = Vec::new();
    if first.0 == first.1 && second.0 == second.1 {
        notes.push(Note::new(
            "both-complete",
            "Both sides found everything; that bounds their difference only as far as their \
             numbers reach.",
            "Add units near the size where detection fails.",
        ));
    }
    Ok(Difference {
        difference: p - q,
        lower: p - q - joined(p - a.lower, b.upper - q),
        upper: p - q + joined(a.upper - p, q - b.lower),
        confidence,
        n: first.1.saturating_add(second.1),
        method: "difference of proportions, score intervals joined (Newcombe)",
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printed_example() {
        // Newcombe 1998 (from memory): 56/70 against 48/80 gives 0.2, 0.0524
        // to 0.3339.
        let result = newcombe((56, 70), (48, 80), 0.95).unwrap();
        assert!((result.lower - 0.0524).abs() < 5e-5, "{result:?}");
        assert!((result.upper - 0.3339).abs() < 5e-5);
    }
}

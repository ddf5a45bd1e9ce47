//! What goes with a run beside the unit: who tests, on which rig, a unit of
//! which lot, where and of which kind its leak is, and which standard gives a
//! flow.

use crate::profile::worded;

worded! {
    /// Side of the container on which a leak is.
    LeakSide {
        /// Gas reaches the leak.
        Gas = "gas",
        /// The product's liquid covers the leak.
        Liquid = "liquid",
    }
}

/// The name of a factor and its mark on a run.
pub type SpreadFactor = (&'static str, fn(&RunFactors) -> &str);

/// Operator, rig, lot, side and kind of leak, and standard of a run. A text is empty where
/// nobody said; planned runs carry marks such as `O1`, `R1` and `L1`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct RunFactors {
    /// Who tests.
    pub operator: String,
    /// On which rig.
    pub rig: String,
    /// Lot of the unit.
    pub lot: String,
    /// Side of the leak, for a positive control.
    pub side: Option<LeakSide>,
    /// Type of defect in plain words, such as laser hole.
    pub defect: String,
    /// Flow standard of a flow challenge, by its name in the register.
    pub standard: String,
}

impl RunFactors {
    /// What is spread over the units, each with its mark on a run.
    pub const SPREAD: [SpreadFactor; 3] = [
        ("operator", |factors| &factors.operator),
        ("rig", |factors| &factors.rig),
        ("lot", |factors| &factors.lot),
    ];

    /// Whether nobody said anything.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// These, with what is empty taken from `others`.
    #[must_use]
    pub fn or(self, others: &Self) -> Self {
        let text = |own: String, other: &String| if own.is_empty() { other.clone() } else { own };
        Self {
            operator: text(self.operator, &others.operator),
            rig: text(self.rig, &others.rig),
            lot: text(self.lot, &others.lot),
            side: self.side.or(others.side),
            defect: text(self.defect, &others.defect),
            standard: text(self.standard, &others.standard),
        }
    }

    /// Side and type of the leak in words; empty where nobody said.
    #[must_use]
    pub fn leak_words(&self) -> String {
        let side = self.side.map(|side| format!("{} side", side.word()));
        let defect = (!self.defect.is_empty()).then(|| self.defect.clone());
        side.into_iter().chain(defect).collect::<Vec<_>>().join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_recorded_comes_before_what_was_planned() {
        let planned = RunFactors {
            operator: "O1".to_owned(),
            rig: "R1".to_owned(),
            lot: "L2".to_owned(),
            side: Some(LeakSide::Liquid),
            ..RunFactors::default()
        };
        let recorded = RunFactors { rig: "0417".to_owned(), ..RunFactors::default() };
        let both = recorded.or(&planned);
        assert_eq!((both.operator.as_str(), both.rig.as_str()), ("O1", "0417"));
        assert_eq!(both.leak_words(), "liquid side");
        assert!(!both.is_empty() && RunFactors::default().is_empty());
    }
}

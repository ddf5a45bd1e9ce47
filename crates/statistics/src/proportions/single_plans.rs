//! Single sampling plans for normal inspection by attributes, in the layout of
//! ISO 2859-1.
//!
//! The tables are rebuilt from their diagonal rule and **from memory**; every
//! result says so. A copy of the standard decides.

use crate::account::{Account, Counted};
use crate::cannot_say::CannotSay;
use crate::note::{Assumption, Note};

/// A single sampling plan.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SinglePlan {
    /// Sample-size code letter the lot size asks for.
    pub code_letter: char,
    /// Letter of the plan used, after following the table's arrows.
    pub plan_letter: char,
    /// Units to test.
    pub n: u64,
    /// Bad units allowed.
    pub acceptance_number: u64,
    /// Acceptance quality limit, percent.
    pub quality_limit_percent: f64,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for SinglePlan {
    fn method(&self) -> &str {
        "single sampling plan by lot size, level and acceptance quality limit, normal inspection (ISO 2859-1)"
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.n as f64, "units to test; nothing is tested yet")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "units drawn at random from the lot",
                "from the plan",
                "a plan does not show it",
            ),
            Assumption::unchecked(
                "a series of lots from one process",
                "record of the lots before",
                "the switching rules of the standard belong to the plan; for a single lot \
                     use the probability of acceptance",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

const LETTERS: [char; 16] =
    ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q', 'R'];
const SIZES: [u64; 16] = [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000];
const LIMITS: [f64; 26] = [
    0.01, 0.015, 0.025, 0.04, 0.065, 0.1, 0.15, 0.25, 0.4, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0,
    15.0, 25.0, 40.0, 65.0, 100.0, 150.0, 250.0, 400.0, 650.0, 1000.0,
];
const LOTS: [u64; 14] =
    [8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000];
/// Acceptance numbers along one row of the table, from its first cell.
const NUMBERS: [Option<u64>; 13] = [
    Some(0),
    None,
    None,
    Some(1),
    Some(2),
    Some(3),
    Some(5),
    Some(7),
    Some(10),
    Some(14),
    Some(21),
    Some(30),
    Some(44),
];

/// Level of inspection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Special level S-1.
    S1,
    /// Special level S-2.
    S2,
    /// Special level S-3.
    S3,
    /// Special level S-4.
    S4,
    /// General level I.
    I,
    /// General level II, the usual one.
    II,
    /// General level III.
    III,
}

/// Code letter of a lot size.
#[must_use]
pub fn code_letter(lot: u64, level: Level) -> char {
    let row = LOTS.iter().position(|bound| lot <= *bound).unwrap_or(LOTS.len());
    let letters = match level {
        Level::S1 => "AAAABBBBCCCCDDD",
        Level::S2 => "AAABBBCCCDDDEEE",
        Level::S3 => "AABBCCDDEEFFGGH",
        Level::S4 => "AABCCDEEFGGHJJK",
        Level::I => "AABCCDEFGHJKLMN",
        Level::II => "ABCDEFGHJKLMNPQ",
        Level::III => "BCDEFGHJKLMNPQR",
    };
    letters.chars().nth(row).unwrap_or('R')
}

/// Acceptance number in the table cell of a letter and a quality limit, where
/// the cell holds one and not an arrow.
fn cell(letter: usize, limit: usize) -> Option<u64> {
    // The zero of letter A stands at 6.5 %, one limit lower for each letter.
    let place = (limit + letter).checked_sub(14)?;
    let number = NUMBERS.get(place).copied().flatten()?;
    (letter <= 4 || number <= 21).then_some(number)
}

/// Single plan for normal inspection.
///
/// # Errors
/// A quality limit that is not one of the preferred values, an empty lot.
pub fn single_plan(
    lot: u64,
    level: Level,
    quality_limit_percent: f64,
) -> Result<SinglePlan, CannotSay> {
    if lot < 2 {
        return Err(CannotSay::TooFew {
            what: "units in the lot".into(),
            needed: 2,
            got: lot as usize,
        });
    }
    let limit = LIMITS.iter().position(|l| *l == quality_limit_percent).ok_or_else(|| {
        CannotSay::OutOfRange {
            what: "the acceptance quality limit".into(),
            value: quality_limit_percent,
            allowed: "a preferred value such as 0.065, 0.1, 0.65, 1.0, 2.5 or 4.0 percent".into(),
        }
    })?;
    let code = code_letter(lot, level);
    let start = LETTERS.iter().position(|l| *l == code).unwrap_or(LETTERS.len() - 1);
    let letter = follow_arrow(start, limit).ok_or_else(|| {
        CannotSay::not_determined(
            "the table holds no plan for this quality limit",
            "Choose another quality limit.",
        )
    })?;
    let mut notes = vec![Note::new(
        "table-from-memory",
        "The plan comes from tables rebuilt from memory.",
        "Compare it with a copy of the standard before it enters a protocol.",
    )];
    if SIZES[letter] >= lot {
        notes.push(Note::new(
            "full-inspection",
            format!("The plan asks for {} units of a lot of {lot}.", SIZES[letter]),
            "Inspect the whole lot.",
        ));
    }
    Ok(SinglePlan {
        code_letter: code,
        plan_letter: LETTERS[letter],
        n: SIZES[letter],
        acceptance_number: cell(letter, limit).unwrap_or(0),
        quality_limit_percent,
        notes,
    })
}

/// Letter of the first plan below or above in the same column.
fn follow_arrow(start: usize, limit: usize) -> Option<usize> {
    if cell(start, limit).is_some() {
        return Some(start);
    }
    // One letter under the zero the arrow points up, otherwise down; beyond
    // the last number it points up.
    let place = (limit + start) as i64 - 14;
    let upward = place == 1 || place > 2;
    if upward {
        (0..start).rev().find(|letter| cell(*letter, limit).is_some())
    } else {
        (start + 1..LETTERS.len()).find(|letter| cell(*letter, limit).is_some())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_usual_plan() {
        // Lot of 1000 at level II: letter J, n 80; at 1.0 % two are allowed
        // (from memory, as the whole table).
        let plan = single_plan(1000, Level::II, 1.0).unwrap();
        assert_eq!((plan.code_letter, plan.n, plan.acceptance_number), ('J', 80, 2));
        // At 0.25 % the arrow leads up from J to H, n 50, none allowed.
        let plan = single_plan(1000, Level::II, 0.25).unwrap();
        assert_eq!((plan.plan_letter, plan.n, plan.acceptance_number), ('H', 50, 0));
        assert!(single_plan(1000, Level::II, 0.3).is_err());
    }
}

//! Operators, rigs, lots and types of defect over the runs, so that none of
//! them goes with a day or a size.
//!
//! Every unit gets, factor after factor, the level that is rarest so far among
//! the units of its kind and size, of its kind and day, and of its kind with
//! the levels it already has. Levels then occur equally often in each, or
//! nearly so where the numbers do not divide.

use std::collections::{BTreeMap, BTreeSet};

use crate::notes::Note;

/// What is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Factor {
    Lot,
    Rig,
    Operator,
    Defect,
}

impl Factor {
    const fn words(self) -> &'static str {
        match self {
            Self::Lot => "lots",
            Self::Rig => "rigs",
            Self::Operator => "operators",
            Self::Defect => "types of defect",
        }
    }
}

/// Which units are balanced against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Blank,
    Flow,
    Negative,
    Positive,
    Liquid,
    Aged,
}

/// Where a unit stands: its kind, its size within it, its day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub kind: Kind,
    pub cell: usize,
    pub day: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Cell(Kind, usize, Factor, usize),
    Day(Kind, usize, Factor, usize),
    Pair(Kind, Factor, usize, Factor, usize),
}

/// What was given out so far.
#[derive(Debug, Default)]
pub(super) struct Balance {
    counts: BTreeMap<Key, u32>,
    given: BTreeMap<Kind, usize>,
}

impl Balance {
    /// Levels for one unit: `wanted` factors with their numbers of levels,
    /// beside those that it is `held` to.
    pub fn give(
        &mut self,
        place: Place,
        wanted: &[(Factor, usize)],
        held: &[(Factor, usize)],
    ) -> BTreeMap<Factor, usize> {
        let Place { kind, cell, day } = place;
        let turn = *self.given.entry(kind).and_modify(|n| *n += 1).or_insert(0);
        let mut levels: BTreeMap<Factor, usize> = held.iter().copied().collect();
        for &(factor, n) in wanted {
            let cost = |level: usize| {
                let count = |key: Key| self.counts.get(&key).copied().unwrap_or(0);
                let pairs: u32 = levels
                    .iter()
                    .map(|(other, with)| count(Key::Pair(kind, factor, level, *other, *with)))
                    .sum();
                2 * count(Key::Cell(kind, cell, factor, level))
                    + 2 * count(Key::Day(kind, day, factor, level))
                    + pairs
            };
            // Equals take turns, so that the first level is not favoured.
            let best = (0..n.max(1)).map(|step| (turn + step) % n.max(1)).min_by_key(|l| cost(*l));
            levels.insert(factor, best.unwrap_or(0));
        }
        for (&factor, &level) in &levels {
            for key in [Key::Cell(kind, cell, factor, level), Key::Day(kind, day, factor, level)] {
                *self.counts.entry(key).or_insert(0) += 1;
            }
            for (&other, &with) in levels.iter().filter(|(other, _)| **other != factor) {
                *self.counts.entry(Key::Pair(kind, factor, level, other, with)).or_insert(0) += 1;
            }
        }
        levels
    }

    /// What cannot be told apart among the negative controls, which say most of
    /// the spread, with the numbers of levels planned.
    pub fn notes(&self, planned: &[(Factor, usize)]) -> Vec<Note> {
        let several: Vec<(Factor, usize)> =
            planned.iter().copied().filter(|(_, n)| *n > 1).collect();
        let mut not_crossed = Vec::new();
        let met = |wanted: &dyn Fn(&Key) -> Option<(usize, usize)>| {
            self.counts.keys().filter_map(wanted).collect::<BTreeSet<_>>().len()
        };
        let days = self
            .counts
            .keys()
            .filter_map(|key| match key {
                Key::Day(Kind::Negative, day, ..) => Some(*day),
                _ => None,
            })
            .collect::<BTreeSet<_>>()
            .len();
        for (place, &(factor, n)) in several.iter().enumerate() {
            let with_days = met(&|key| match *key {
                Key::Day(Kind::Negative, day, f, level) if f == factor => Some((day, level)),
                _ => None,
            });
            if with_days < n * days {
                not_crossed.push(format!("{} and days", factor.words()));
            }
            for &(other, m) in &several[place + 1..] {
                let together = met(&|key| match *key {
                    Key::Pair(Kind::Negative, f, a, g, b) if (f, g) == (factor, other) => {
                        Some((a, b))
                    }
                    _ => None,
                });
                if together < n * m {
                    not_crossed.push(format!("{} and {}", factor.words(), other.words()));
                }
            }
        }
        let mut notes = Vec::new();
        if days > 0 && !not_crossed.is_empty() {
            notes.push(Note::caution(
                "factors-not-separated",
                format!(
                    "the negative controls are too few for every combination, so these cannot be \
                     wholly told apart: {}",
                    not_crossed.join("; ")
                ),
                "plan more negative controls, or fewer operators, rigs or lots",
            ));
        }
        let of = |factor: Factor| planned.iter().find(|one| one.0 == factor).map_or(1, |one| one.1);
        let two: Vec<&str> = [Factor::Lot, Factor::Rig, Factor::Operator]
            .into_iter()
            .filter(|factor| of(*factor) == 2)
            .map(Factor::words)
            .collect();
        if !two.is_empty() {
            notes.push(Note::remark(
                "two-tell-little",
                format!(
                    "two {} show whether they differ, and next to nothing of how much others would \
                     (one degree of freedom)",
                    two.join(" and two ")
                ),
                "plan three or more where the spread between them is wanted",
            ));
        }
        let one: Vec<&str> = [Factor::Lot, Factor::Rig, Factor::Operator]
            .into_iter()
            .filter(|factor| of(*factor) == 1)
            .map(|factor| factor.words().trim_end_matches('s'))
            .collect();
        if !one.is_empty() {
            notes.push(Note::remark(
                "one-of-its-kind",
                format!("the plan has one {}: nothing is learned of others", one.join(" and one ")),
                "plan more where the claim is to hold for them",
            ));
        }
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 60 units over three days and 8 sizes of 8, three lots, two rigs, two
    /// operators: 60/3 = 20 of each lot, 30 on each rig; on each day of 20 units
    /// 6 or 7 of a lot, 10 on a rig (hand calculation).
    #[test]
    fn no_factor_goes_with_a_day_or_a_size() {
        let wanted = [(Factor::Lot, 3), (Factor::Rig, 2), (Factor::Operator, 2)];
        let mut balance = Balance::default();
        let mut counts: BTreeMap<(usize, Factor, usize), u32> = BTreeMap::new();
        for unit in 0..60 {
            let place = Place { kind: Kind::Negative, cell: 0, day: unit % 3 };
            for (factor, level) in balance.give(place, &wanted, &[]) {
                *counts.entry((unit % 3, factor, level)).or_insert(0) += 1;
            }
        }
        for (key, n) in &counts {
            let even = if key.1 == Factor::Lot { 20.0 / 3.0 } else { 10.0 };
            assert!((f64::from(*n) - even).abs() <= 1.0, "{key:?} {n}");
        }
        assert_eq!(counts.len(), 3 * (3 + 2 + 2));
        for size in 0..8 {
            let mut of_size: BTreeMap<(Factor, usize), u32> = BTreeMap::new();
            for unit in 0..8 {
                let place = Place { kind: Kind::Positive, cell: size, day: (8 * size + unit) % 3 };
                for level in balance.give(place, &wanted, &[]) {
                    *of_size.entry(level).or_insert(0) += 1;
                }
            }
            for (level, n) in &of_size {
                let even = if level.0 == Factor::Lot { 8.0 / 3.0 } else { 4.0 };
                assert!((f64::from(*n) - even).abs() <= 1.0, "size {size}: {level:?} {n}");
            }
        }
        // Every combination of two occurs.
        assert!(balance.notes(&wanted).iter().all(|note| note.code != "factors-not-separated"));
    }

    /// Four units cannot hold three lots on each of three days.
    #[test]
    fn what_cannot_be_told_apart_is_said() {
        let wanted = [(Factor::Lot, 3), (Factor::Rig, 1), (Factor::Operator, 2)];
        let mut balance = Balance::default();
        for unit in 0..4 {
            let place = Place { kind: Kind::Negative, cell: 0, day: unit % 3 };
            balance.give(place, &wanted, &[]);
        }
        let notes = balance.notes(&wanted);
        let found = notes.iter().find(|note| note.code == "factors-not-separated");
        let text = &found.expect("a caution").text;
        assert!(text.contains("lots and days") && text.contains("lots and operators"), "{text}");
        assert!(notes.iter().any(|note| note.code == "two-tell-little"));
        let one = notes.iter().find(|note| note.code == "one-of-its-kind").expect("a remark");
        assert!(one.text.contains("one rig"), "{}", one.text);
    }

    /// What a unit is held to counts, and the rest goes round it.
    #[test]
    fn a_blank_stays_on_its_rig() {
        let mut balance = Balance::default();
        for unit in 0..6 {
            let place = Place { kind: Kind::Blank, cell: 0, day: 0 };
            let levels = balance.give(place, &[(Factor::Operator, 2)], &[(Factor::Rig, unit % 2)]);
            assert_eq!(levels[&Factor::Rig], unit % 2);
        }
        for rig in 0..2 {
            for operator in 0..2 {
                let key = Key::Pair(Kind::Blank, Factor::Rig, rig, Factor::Operator, operator);
                let n = balance.counts.get(&key).copied().unwrap_or(0);
                assert!((1..=2).contains(&n), "{key:?} {n}");
            }
        }
    }
}

//! Cycle counters of rigs: what is missing, twice there, or late.
//!
//! A rig counts its cycles. A count that is missing may be a run that nobody
//! likes; so every gap, every double and every late file is an open item that
//! somebody explains before a case is signed.

use std::collections::BTreeMap;

/// One run of one rig, as its file names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CycleStamp {
    /// Serial number of the rig.
    pub rig: String,
    /// Its cycle counter.
    pub counter: u64,
    /// File in which the run stands.
    pub file: String,
}

/// Gaps longer than this are one item with both ends, not a list.
const LONGEST_LIST: u64 = 5;

/// Open items of new runs beside those that were there before: one sentence
/// each, in the order of rigs and counters.
///
/// # Example
/// ```
/// use study::cycle_counters::{CycleStamp, open_items};
/// let stamp = |counter, file: &str| CycleStamp { rig: "R7".into(), counter, file: file.into() };
/// let items = open_items(&[stamp(5, "a.csv")], &[stamp(6, "b.csv"), stamp(9, "c.csv")]);
/// assert_eq!(items, ["rig R7: cycles 7 and 8 are missing, between b.csv and c.csv"]);
/// ```
#[must_use]
pub fn open_items(before: &[CycleStamp], new: &[CycleStamp]) -> Vec<String> {
    let mut rigs: BTreeMap<&str, Vec<(&CycleStamp, bool)>> = BTreeMap::new();
    for (stamps, is_new) in [(before, false), (new, true)] {
        for stamp in stamps {
            rigs.entry(stamp.rig.as_str()).or_default().push((stamp, is_new));
        }
    }
    let mut items = Vec::new();
    for (rig, mut stamps) in rigs {
        let last_before =
            stamps.iter().filter(|(_, is_new)| !is_new).map(|(stamp, _)| stamp.counter).max();
        stamps.sort_by_key(|(stamp, is_new)| (stamp.counter, *is_new));
        for pair in stamps.windows(2) {
            let [(one, _), (two, two_is_new)] = pair else { continue };
            let touches_new = pair.iter().any(|(_, is_new)| *is_new);
            if !touches_new {
                continue;
            }
            if one.counter == two.counter && *two_is_new {
                items.push(format!(
                    "rig {rig}: cycle {} is there twice, in {} and {}",
                    one.counter, one.file, two.file
                ));
            } else if two.counter > one.counter + 1 {
                items.push(format!(
                    "rig {rig}: {} missing, between {} and {}",
                    missing(one.counter + 1, two.counter - 1),
                    one.file,
                    two.file
                ));
            }
        }
        for (stamp, is_new) in &stamps {
            if *is_new && last_before.is_some_and(|last| stamp.counter < last) {
                items.push(format!(
                    "rig {rig}: cycle {} in {} came late, after cycle {}",
                    stamp.counter,
                    stamp.file,
                    last_before.unwrap_or(0)
                ));
            }
        }
    }
    items
}

fn missing(first: u64, last: u64) -> String {
    match last - first {
        0 => format!("cycle {first} is"),
        1 => format!("cycles {first} and {last} are"),
        n if n < LONGEST_LIST => {
            let all: Vec<String> = (first..=last).map(|counter| counter.to_string()).collect();
            format!("cycles {} are", all.join(", "))
        }
        n => format!("{} cycles from {first} to {last} are", n + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamps(counters: &[u64]) -> Vec<CycleStamp> {
        counters
            .iter()
            .map(|&counter| CycleStamp {
                rig: "R7".to_owned(),
                counter,
                file: format!("{counter}.csv"),
            })
            .collect()
    }

    #[test]
    fn runs_without_a_hole_leave_nothing_open() {
        assert!(open_items(&stamps(&[1, 2]), &stamps(&[3, 4, 5])).is_empty());
        assert!(open_items(&[], &[]).is_empty());
    }

    #[test]
    fn gaps_doubles_and_late_files_are_open() {
        let items = open_items(&stamps(&[1, 2, 3]), &stamps(&[3, 20]));
        assert_eq!(items.len(), 2, "{items:?}");
        assert!(items[0].contains("cycle 3 is there twice"), "{items:?}");
        assert!(items[1].contains("16 cycles from 4 to 19 are missing"), "{items:?}");
        let items = open_items(&stamps(&[5, 7]), &stamps(&[6]));
        assert_eq!(items, ["rig R7: cycle 6 in 6.csv came late, after cycle 7"]);
    }

    #[test]
    fn an_old_gap_is_not_opened_again() {
        assert!(open_items(&stamps(&[1, 5]), &stamps(&[6])).is_empty());
    }
}

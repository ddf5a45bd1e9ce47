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
    let mut rigs: BTreeMap<String, Vec<(&CycleStamp, bool)>> = BTreeMap::new();
    for (stamps, is_new) in [(before, false), (new, true)] {
        for stamp in stamps {
            // One serial number in two spellings is one rig.
            rigs.entry(stamp.rig.trim().to_lowercase()).or_default().push((stamp, is_new));
        }
    }
    let mut items = Vec::new();
    for stamps in rigs.values() {
        let name = stamps.first().map_or("", |(stamp, _)| stamp.rig.trim());
        let rig = if name.is_empty() { "a rig without a serial number" } else { name };
        let rig = if name.is_empty() { rig.to_owned() } else { format!("rig {rig}") };
        items.extend(set_back(&rig, stamps));
        items.extend(of_rig(&rig, stamps.clone()));
    }
    items
}

/// Rows of one file stand in the order of the tests: a counter that falls there
/// was set back, or somebody has sorted them.
fn set_back(rig: &str, stamps: &[(&CycleStamp, bool)]) -> Vec<String> {
    let falls = stamps.windows(2).filter_map(|pair| {
        let [(one, _), (two, true)] = pair else { return None };
        (one.file == two.file && two.counter < one.counter).then(|| {
            format!(
                "{rig}: the counter falls from {} to {} in {}: it was set back, or the rows are \
                 not in the order of the tests",
                one.counter, two.counter, two.file
            )
        })
    });
    let mut falls: Vec<String> = falls.collect();
    let more = falls.len().saturating_sub(LONGEST_LIST as usize);
    falls.truncate(LONGEST_LIST as usize);
    if more > 0 {
        falls.push(format!("{rig}: the counter falls {more} more times"));
    }
    falls
}

fn of_rig(rig: &str, mut stamps: Vec<(&CycleStamp, bool)>) -> Vec<String> {
    let mut items = Vec::new();
    let last_before =
        stamps.iter().filter(|(_, is_new)| !is_new).map(|(stamp, _)| stamp.counter).max();
    stamps.sort_by_key(|(stamp, is_new)| (stamp.counter, *is_new));
    let counts: Vec<&[(&CycleStamp, bool)]> =
        stamps.chunk_by(|one, two| one.0.counter == two.0.counter).collect();
    let any_new = |count: &[(&CycleStamp, bool)]| count.iter().any(|(_, is_new)| *is_new);
    for (place, count) in counts.iter().enumerate() {
        let [(first, _), ..] = count else { continue };
        if count.len() > 1 && any_new(count) {
            items.push(doubled(rig, first.counter, count));
        }
        let Some(next) = counts.get(place + 1) else { continue };
        let ([.., (one, _)], [(two, _), ..]) = (count, next) else { continue };
        if two.counter - one.counter > 1 && (any_new(count) || any_new(next)) {
            items.push(format!(
                "{rig}: {} missing, between {} and {}",
                missing(one.counter + 1, two.counter - 1),
                one.file,
                two.file
            ));
        }
    }
    let Some(last) = last_before else { return items };
    let mut late: Vec<&CycleStamp> = stamps
        .iter()
        .filter(|(one, is_new)| *is_new && one.counter < last)
        .map(|(s, _)| *s)
        .collect();
    late.dedup();
    if late.len() as u64 > LONGEST_LIST {
        items.push(format!(
            "{rig}: {} cycles from {} to {} came late, after cycle {last}, or the counter was set \
             back",
            late.len(),
            late[0].counter,
            late[late.len() - 1].counter
        ));
    } else {
        items.extend(late.iter().map(|one| {
            format!("{rig}: cycle {} in {} came late, after cycle {last}", one.counter, one.file)
        }));
    }
    items
}

/// Files that are named where a count stands in several.
fn doubled(rig: &str, counter: u64, count: &[(&CycleStamp, bool)]) -> String {
    let named = count.len().min(LONGEST_LIST as usize);
    let files: Vec<&str> = count[..named].iter().map(|(stamp, _)| stamp.file.as_str()).collect();
    let (last, before) = files.split_last().unwrap_or((&"", &[]));
    let more = match count.len() - named {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let times =
        if count.len() == 2 { "twice".to_owned() } else { format!("{} times", count.len()) };
    format!("{rig}: cycle {counter} is there {times}, in {} and {last}{more}", before.join(", "))
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

    /// The counter of a new board begins at 1; in one file its fall is seen, in
    /// several the files are late by their counts.
    #[test]
    fn a_counter_that_was_set_back_is_open() {
        let in_one = |counters: &[u64]| -> Vec<CycleStamp> {
            let mut stamps = stamps(counters);
            stamps.iter_mut().for_each(|stamp| stamp.file = "log.csv".to_owned());
            stamps
        };
        let items = open_items(&[], &in_one(&[998, 999, 1, 2]));
        assert!(items[0].contains("falls from 999 to 1 in log.csv"), "{items:?}");
        assert!(items.iter().any(|item| item.contains("995 cycles from 3 to 997")), "{items:?}");
        let items = open_items(&stamps(&[998, 999]), &stamps(&[1, 2, 3, 4, 5, 6, 7]));
        assert_eq!(items.len(), 2, "{items:?}");
        assert!(items[1].contains("7 cycles from 1 to 7 came late"), "{items:?}");
    }

    #[test]
    fn a_count_in_three_places_is_one_item() {
        let mut new = stamps(&[4, 4, 4]);
        new[2].file = "copy.csv".to_owned();
        let items = open_items(&[], &new);
        assert_eq!(items, ["rig R7: cycle 4 is there 3 times, in 4.csv, 4.csv and copy.csv"]);
    }

    #[test]
    fn one_rig_in_two_spellings_is_one_and_one_without_a_name_is_one() {
        let mut new = stamps(&[5]);
        new[0].rig = "r7 ".to_owned();
        assert!(open_items(&stamps(&[5]), &new)[0].contains("twice"));
        let mut nameless = stamps(&[5, 7]);
        nameless.iter_mut().for_each(|stamp| stamp.rig.clear());
        let items = open_items(&[], &nameless);
        assert!(items[0].starts_with("a rig without a serial number: cycle 6"), "{items:?}");
        assert!(open_items(&stamps(&[u64::MAX]), &stamps(&[u64::MAX - 1])).len() == 1);
    }

    #[test]
    fn an_old_gap_is_not_opened_again() {
        assert!(open_items(&stamps(&[1, 5]), &stamps(&[6])).is_empty());
    }
}

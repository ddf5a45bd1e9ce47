//! State of a case: what a signature is over.

use std::collections::BTreeMap;

use crate::history::HistoryEvent;

/// Records that stand beside the state: they say something about it.
pub(crate) const BESIDE: [&str; 3] = ["signature", "audit_review", "open_item"];

/// Lines `event record subject version hash`, in the order of their events:
/// the newest version of each record, and every batch of runs. A dash stands
/// for a missing subject, 0 for a missing version.
pub(crate) fn lines<'e>(events: impl IntoIterator<Item = &'e HistoryEvent>) -> String {
    // Newest by record and subject; a batch of runs by its number.
    let mut newest: BTreeMap<(&str, &str, u64), &HistoryEvent> = BTreeMap::new();
    for event in events {
        let Some(record) = event.record.as_deref() else { continue };
        if BESIDE.contains(&record) {
            continue;
        }
        let batch = if record == "run" { event.number } else { 0 };
        newest.insert((record, event.subject.as_deref().unwrap_or("-"), batch), event);
    }
    let mut of_state: Vec<(&(&str, &str, u64), &&HistoryEvent)> = newest.iter().collect();
    of_state.sort_by_key(|(_, event)| event.number);
    of_state
        .into_iter()
        .map(|((record, subject, _), event)| {
            format!(
                "{} {record} {subject} {} {}\n",
                event.number,
                event.version.unwrap_or(0),
                event.new_sha256.as_deref().unwrap_or("-")
            )
        })
        .collect()
}

/// Number of the last event that changed the state; 0 before there is one.
pub(crate) fn last_change(events: &[HistoryEvent]) -> u64 {
    events
        .iter()
        .rev()
        .find(|event| event.record.as_deref().is_some_and(|record| !BESIDE.contains(&record)))
        .map_or(0, |event| event.number)
}

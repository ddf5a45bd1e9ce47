//! One run for each unit: repeats of a unit say how well the rig repeats, not
//! how units differ, and must not count as units.

use std::collections::BTreeSet;

use crate::notes::Note;
use crate::runs::Run;

/// The first run of each unit, in the order given, and a caution where there
/// were further ones.
///
/// `usable` tells which runs carry a result: an aborted first run does not take
/// the place of the one that followed it.
pub(super) fn first_of_each<'a>(
    runs: impl Iterator<Item = &'a Run>,
    usable: impl Fn(&Run) -> bool,
    what: &str,
    notes: &mut Vec<Note>,
) -> Vec<&'a Run> {
    let mut seen = BTreeSet::new();
    let mut further = 0;
    let mut first = Vec::new();
    for run in runs.filter(|run| usable(run)) {
        // A run without a mark cannot be told to be a repeat.
        if run.unit.is_empty() || seen.insert(run.unit.as_str()) {
            first.push(run);
        } else {
            further += 1;
        }
    }
    if further > 0 {
        let (runs, repeat) =
            if further == 1 { ("run is a", "repeat") } else { ("runs are", "repeats") };
        notes.push(Note::caution(
            "repeated-units",
            format!(
                "{further} {runs} {repeat} of {what} that had been run before; the first run of \
                 each of the {} units counts, because repeats of a unit are no further units",
                first.len()
            ),
            "test further units where more are needed; judge the repeats as precision of the rig",
        ));
    }
    first
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runs::RunClass;

    fn control(unit: &str, rise_pa: f64) -> Run {
        Run::invented(unit, RunClass::NegativeControl, rise_pa)
    }

    #[test]
    fn the_first_usable_run_of_each_unit_counts() {
        let mut runs: Vec<Run> =
            ["A", "B", "A", "", ""].iter().map(|unit| control(unit, 3.0)).collect();
        runs[0].features = None;
        let mut notes = Vec::new();
        let usable = |run: &Run| run.features.is_some();
        let first = first_of_each(runs.iter(), usable, "negative controls", &mut notes);
        assert_eq!(first.len(), 4);
        assert!(notes.is_empty(), "an aborted run takes no place: {notes:?}");
        runs.push(control("B", 9.0));
        let first = first_of_each(runs.iter(), usable, "negative controls", &mut notes);
        assert_eq!(first.len(), 4);
        assert_eq!(notes[0].code, "repeated-units");
        assert!(notes[0].text.contains("1 run is a repeat"), "{}", notes[0].text);
    }
}

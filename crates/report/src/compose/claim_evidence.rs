//! What each number of the claim rests on, in one row each: the result, the
//! runs behind it, and where the study report shows them.

use study::Case;
use study::claim::{Claim, RestsOn};
use study::runs::{Run, RunClass};

use super::runs::in_ranges;
use super::wording::sentence;
use crate::document::{Column, DataTable, Words};
use crate::number::{quantity, significant};

/// Letters up to which the runs are named one by one, so that the claim stays
/// on its page; beyond, their number and the stretch they lie in are said.
const MOST_LETTERS: usize = 120;

/// Name of the row to which a number of the claim leads.
pub(super) const fn row_for(rests_on: RestsOn) -> &'static str {
    match rests_on {
        RestsOn::Method => "rests-on-method",
        RestsOn::Readings => "rests-on-readings",
        RestsOn::HitsAndMisses => "rests-on-hits",
        RestsOn::NegativeControls => "rests-on-negative-controls",
        RestsOn::Rig => "rests-on-rig",
    }
}

/// One row for everything that the claim rests on; `None` without a claim.
pub(super) fn table(case: &Case, claim: &Claim) -> Option<DataTable> {
    let mut table = DataTable::new(
        "claim-evidence",
        "What the numbers of the claim rest on",
        vec![
            Column::short("Rests on"),
            Column::words("Result", 1.9),
            Column::words("Runs", 1.0),
            Column::short("In the study report"),
        ],
    );
    let all = [
        RestsOn::Method,
        RestsOn::Readings,
        RestsOn::HitsAndMisses,
        RestsOn::NegativeControls,
        RestsOn::Rig,
    ];
    for rests_on in all {
        if !claim.parts.iter().any(|part| part.rests_on == Some(rests_on)) {
            continue;
        }
        let Evidence { name, result, runs, place } = evidence(case, rests_on)?;
        table.push([
            Words::default().named(name, row_for(rests_on)),
            sentence(&result).into(),
            runs.into(),
            place.into(),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}

struct Evidence {
    name: &'static str,
    result: String,
    runs: String,
    place: &'static str,
}

fn evidence(case: &Case, rests_on: RestsOn) -> Option<Evidence> {
    let results = case.results.as_ref()?;
    Some(match rests_on {
        RestsOn::Method => Evidence {
            name: "method",
            result: format!("version {}, each parameter with its reason", results.method_version),
            runs: "all".to_owned(),
            place: "Method",
        },
        RestsOn::Readings => {
            let signal = results.signal.as_ref()?;
            let bound =
                signal.a90_95_um.map_or("not defined".to_owned(), |um| quantity(um, 3, "µm"));
            Evidence {
                name: "readings",
                result: format!(
                    "{} {bound}: readings of {} units against verified size, threshold {}",
                    results.bound_name(),
                    signal.units,
                    quantity(signal.threshold_pa, 3, "Pa over the blank")
                ),
                runs: named(case, counts),
                place: "Results, readings",
            }
        }
        RestsOn::HitsAndMisses => {
            let detection = results.detection.as_ref()?;
            let (found, of) = detection
                .by_size
                .iter()
                .fold((0, 0), |(found, of), row| (found + row.hits, of + row.of));
            Evidence {
                name: "hits and misses",
                result: format!(
                    "{found} of {of} units found over {} at {} label sizes",
                    quantity(detection.limit_pa, 3, "Pa"),
                    detection.by_size.len()
                ),
                runs: named(case, counts),
                place: "Results, by label size",
            }
        }
        RestsOn::NegativeControls => {
            let limit = results.reject_limit.as_ref()?;
            Evidence {
                name: "negative controls",
                result: format!(
                    "limit {}: mean {}, standard deviation {}, {} units",
                    quantity(limit.limit_pa, 3, "Pa"),
                    significant(limit.mean_pa, 3),
                    significant(limit.standard_deviation_pa, 3),
                    limit.n
                ),
                runs: named(case, |run| matches!(run.class, RunClass::NegativeControl)),
                place: "Results, by day",
            }
        }
        RestsOn::Rig => {
            let free = &case.input.rig.free_volume;
            Evidence {
                name: "rig",
                result: match free.provenance.from.as_str() {
                    "" => format!("free volume {}", free.provenance.origin.word()),
                    from => format!("free volume {}: {from}", free.provenance.origin.word()),
                },
                runs: "none".to_owned(),
                place: "Profile",
            }
        }
    })
}

/// Whether a run counts in the detection; those under the liquid do not.
fn counts(run: &Run) -> bool {
    run.detection_size_um().is_some()
}

fn named(case: &Case, belongs: impl Fn(&Run) -> bool) -> String {
    let numbers: Vec<u32> =
        case.runs.iter().filter(|run| belongs(run)).map(|run| run.number).collect();
    let ranges = in_ranges(&numbers);
    match (numbers.iter().min(), numbers.iter().max()) {
        (Some(first), Some(last)) if ranges.chars().count() > MOST_LETTERS => {
            format!("{} runs between {first} and {last}", numbers.len())
        }
        _ => ranges,
    }
}

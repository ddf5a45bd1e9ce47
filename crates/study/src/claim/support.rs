//! What supports a claim and what does not: parts that would go beyond the
//! evidence are refused, each with what would support them.

use crate::case::Case;
use crate::method::Method;
use crate::notes::Note;
use crate::profile::Fill;
use crate::provenance::Origin;
use crate::results::Results;
use crate::runs::{RunClass, RunOrigin};
use crate::wording::{percent, rounded};

/// Days or lots below which a spread between them is hardly known (common
/// practice).
const FEW_DAYS: usize = 3;

/// Conditions under which the evidence was gained, in plain words.
pub(super) fn conditions(case: &Case) -> Vec<String> {
    let input = &case.input;
    let profile = &input.profile;
    let mut list = vec![
        format!(
            "container: {}; product: {} ({})",
            profile.container.description,
            profile.product.name,
            profile.product.fill.word()
        ),
        format!(
            "headspace: {} mL of {} at {} kPa absolute at the time of the test",
            rounded(profile.headspace.volume.value.ml()),
            profile.headspace.gas.name(),
            rounded(profile.headspace.pressure.value.pa() / 1000.0)
        ),
        format!(
            "chamber walls at {} °C, room at {} kPa",
            rounded(input.rig.wall_temperature.celsius()),
            rounded(input.cycle.ambient.pa() / 1000.0)
        ),
    ];
    let free = &input.rig.free_volume;
    list.push(match free.standard_uncertainty_si {
        Some(u) => format!(
            "free volume {} mL, standard uncertainty {} mL ({})",
            rounded(free.value.ml()),
            rounded(u * 1.0e6),
            free.provenance.origin.word()
        ),
        None => format!(
            "free volume {} mL, uncertainty not stated ({})",
            rounded(free.value.ml()),
            free.provenance.origin.word()
        ),
    });
    if let Some(results) = &case.results {
        list.push(format!("method version {}, unchanged", results.method_version));
        if let Some(limit) = &results.reject_limit {
            list.push(format!(
                "reject limit {} Pa, from {} negative controls on {} {}{}",
                rounded(limit.limit_pa),
                limit.n,
                limit.by_day.len(),
                if limit.by_day.len() == 1 { "day" } else { "days" },
                match limit.by_lot.len() {
                    0 => String::new(),
                    1 => " of 1 lot".to_owned(),
                    n => format!(" of {n} lots"),
                }
            ));
        }
    }
    list
}

/// Refuses a claim whose evidence belongs to something else: another version
/// of the method, or a simulator where the case is said to be real.
pub(super) fn not_of_this_method(case: &Case, method: &Method, results: &Results) -> Option<Note> {
    if method.version != results.method_version {
        return Some(Note::refusal(
            "other-method-version",
            format!(
                "nothing can be claimed of method version {}: the results are of version {}",
                method.version, results.method_version
            ),
            "repeat the study with the version in force, or show that the change does not matter",
        ));
    }
    let simulated =
        case.runs.iter().filter(|run| matches!(run.origin, RunOrigin::Simulated { .. })).count();
    (simulated > 0 && !case.input.invented).then(|| {
        Note::refusal(
            "simulated-runs",
            format!("{simulated} runs were simulated; a simulated run proves nothing of a unit"),
            "import the pressure traces of real runs and evaluate those alone",
        )
    })
}

/// Parts of a stronger claim that the evidence does not carry.
pub(super) fn unsupported(
    case: &Case,
    results: &Results,
    probability: f64,
    tested_to_um: f64,
) -> Vec<Note> {
    let profile = &case.input.profile;
    let mut notes = Vec::new();
    let required = profile.purpose.required_detection.fraction();
    if required > probability {
        notes.push(Note::refusal(
            "required-probability",
            format!(
                "detection with {} % probability is asked for; {} % is what is claimed",
                percent(profile.purpose.required_detection),
                rounded(100.0 * probability)
            ),
            "test more units of the size that matters: with no miss, the exact bound reaches the \
             probability asked for once enough are found",
        ));
    }
    notes.push(Note::refusal(
        "above-tested",
        format!("nothing is claimed above {} µm, the largest size tested", rounded(tested_to_um)),
        "test larger positive controls up to a unit that is open",
    ));
    if profile.product.fill == Fill::Liquid {
        notes.push(Note::refusal(
            "liquid-side",
            "nothing is claimed of leaks below the liquid",
            "test positive controls whose leak is wetted by the product, at a pressure below its \
             vapour pressure",
        ));
    }
    if profile.product.may_plug {
        notes.push(Note::refusal(
            "plugging",
            "nothing is claimed of leaks that the product may have closed",
            "test positive controls filled with product and aged as the units will be",
        ));
    }
    let positive = case.runs.iter().filter_map(|run| match run.class {
        RunClass::PositiveControl { verified_um, .. } => Some(verified_um.is_some()),
        _ => None,
    });
    let unverified = positive.filter(|verified| !verified).count();
    if unverified > 0 {
        notes.push(Note::refusal(
            "sizes-not-verified",
            format!("{unverified} runs of positive controls carry the size on their label alone"),
            "measure the flow of each positive control on arrival",
        ));
    }
    let days = results.reject_limit.as_ref().map_or(0, |limit| limit.by_day.len());
    if days < FEW_DAYS {
        notes.push(Note::refusal(
            "few-days",
            format!("false rejects on other days cannot be said from {days} of them"),
            "run negative controls on at least three days and lots",
        ));
    }
    let lots = results.reject_limit.as_ref().map_or(0, |limit| limit.by_lot.len());
    if (1..FEW_DAYS).contains(&lots) {
        notes.push(Note::refusal(
            "few-lots",
            format!("false rejects of other lots cannot be said from {lots} of them"),
            "test negative controls of at least three lots",
        ));
    }
    if case.input.rig.free_volume.provenance.origin != Origin::Measured {
        notes.push(Note::refusal(
            "free-volume-not-measured",
            format!(
                "the free volume is {}, so nothing is claimed of another chamber of the same \
                 drawing",
                case.input.rig.free_volume.provenance.origin.word()
            ),
            "measure it by gas expansion or by a known flow and its slope",
        ));
    }
    notes
}

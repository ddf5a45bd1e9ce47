//! Claim: what the evidence carries, and what it does not. Decided here; the
//! report only prints it.

mod parts;
mod support;

pub use parts::{ClaimPart, RestsOn};

use crate::case::Case;
use crate::criteria::BOUND_PROBABILITY;
use crate::detection_bound::{Route, detection_bound};
use crate::forecast::LeakSize;
use crate::notes::Note;
use crate::profile::Fill;
use crate::results::Detection;
use crate::wording::{percent, rounded};

/// What may be said, with its limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// The sentence; absent where the evidence carries none.
    pub sentence: Option<String>,
    /// The same sentence in stretches, each with what it rests on; empty where
    /// there is none.
    pub parts: Vec<ClaimPart>,
    /// The size that is claimed, flow-equivalent µm.
    pub size_um: Option<f64>,
    /// The probability of detection that is claimed from that size on: that of the
    /// bound or of the exact bound of one size, and not what the profile asks for.
    pub probability: Option<f64>,
    /// The largest tested size up to which every unit was found, µm.
    pub tested_to_um: Option<f64>,
    /// Conditions under which the sentence holds.
    pub conditions: Vec<String>,
    /// What the sentence does not cover.
    pub not_covered: Vec<String>,
    /// Why a stronger or any claim is refused, with what would support it.
    pub refusals: Vec<Note>,
}

impl Case {
    /// What may be claimed, and what may not.
    #[must_use]
    pub fn claim(&self) -> Claim {
        compile(self)
    }
}

/// Compiles the claim of a case from its results.
#[must_use]
pub fn compile(case: &Case) -> Claim {
    let mut refusals = Vec::new();
    let mut claim = Claim {
        sentence: None,
        parts: Vec::new(),
        size_um: None,
        probability: None,
        tested_to_um: None,
        conditions: support::conditions(case),
        not_covered: not_covered(case),
        refusals: vec![],
    };
    let (Some(method), Some(results)) = (&case.method, &case.results) else {
        refusals.push(Note::refusal(
            "no-results",
            "nothing can be claimed before units have been tested",
            "do the runs of the plan and evaluate them",
        ));
        claim.refusals = refusals;
        return claim;
    };
    let (Some(limit), Some(detection)) = (&results.reject_limit, &results.detection) else {
        refusals.push(Note::refusal(
            "claim-incomplete",
            "a claim needs a reject limit from negative controls and detection of positive \
             controls",
            "see the notes of the results for what is missing",
        ));
        claim.refusals = refusals;
        return claim;
    };
    if let Some(note) = support::not_of_this_method(case, method, results) {
        refusals.push(note);
        claim.refusals = refusals;
        return claim;
    }
    let confidence = percent(case.input.profile.purpose.confidence);
    let (bound, not_taken) = detection_bound(detection, results.signal.as_ref());
    refusals.extend(not_taken);
    let found = bound.map(|bound| {
        let (rests_on, evidence) = match bound.route {
            Route::Readings { units } => {
                (RestsOn::Readings, format!("line of the readings of {units} units"))
            }
            Route::HitsAndMisses { units } => {
                (RestsOn::HitsAndMisses, format!("logistic curve through {units} units"))
            }
        };
        ((bound.um, rests_on), BOUND_PROBABILITY, evidence)
    });
    let ((size_um, rests_on), probability, evidence) = match found {
        Some(found) => found,
        None => {
            if detection.a90_95_um.is_none() {
                refusals.push(Note::refusal(
                    "no-a90-95",
                    "no size found with probability 0.9 can be claimed with confidence: the curve \
                     is undefined or open",
                    "test more units between the largest missed and the smallest found size",
                ));
            }
            // The size whose exact bound is best, the smaller one on a tie.
            let best = detection.by_size.iter().filter(|row| row.hits == row.of).max_by(|a, b| {
                a.lower.total_cmp(&b.lower).then(b.nominal_um.total_cmp(&a.nominal_um))
            });
            match best {
                Some(row) => (
                    (row.nominal_um, RestsOn::HitsAndMisses),
                    (row.lower * 1000.0).floor() / 1000.0,
                    format!("{} of {} units, exact bound", row.hits, row.of),
                ),
                None => {
                    claim.refusals = refusals;
                    return claim;
                }
            }
        }
    };
    let tested_to_um = largest_found(detection).unwrap_or(size_um).max(size_um);
    claim.size_um = Some(size_um);
    claim.probability = Some(probability);
    claim.tested_to_um = Some(tested_to_um);
    if let Some(edge) = case.forecast.as_ref().and_then(|forecast| forecast.window.largest)
        && edge.um > tested_to_um
    {
        claim.not_covered.push(format!(
            "leaks above {} µm flow-equivalent: forecast to be found up to {} µm, not tested",
            rounded(tested_to_um),
            rounded(edge.um)
        ));
    }
    let words = ClaimPart::words;
    let on = ClaimPart::on;
    claim.parts = vec![
        on(RestsOn::Method, format!("Method version {}", method.version)),
        words(" detects gas-side leaks from "),
        on(rests_on, size_with_flow(size_um)),
        words(" to "),
        on(RestsOn::HitsAndMisses, size_with_flow(tested_to_um)),
        words(
            " flow-equivalent (air, 1 atm to vacuum, 20 °C) in this container with probability \
             of at least ",
        ),
        on(rests_on, format!("{} at {confidence} % confidence ({evidence})", rounded(probability))),
        words(", with at most "),
        on(
            RestsOn::NegativeControls,
            format!(
                "{} % of good units rejected at {} % confidence ({} negative controls)",
                rounded((1.0 - limit.content) * 100.0),
                rounded(limit.confidence * 100.0),
                limit.n
            ),
        ),
        words(", on "),
        on(RestsOn::Rig, format!("rig “{}” with {}", case.input.rig.name, free_volume(case))),
        words(if case.input.invented {
            " (invented scenario: nothing is claimed of a real product)."
        } else {
            "."
        }),
    ];
    claim.sentence = parts::sentence(&claim.parts);
    refusals.extend(unmet_need(case, size_um));
    refusals.extend(support::unsupported(case, results, probability, tested_to_um));
    claim.refusals = refusals;
    claim
}

/// A size with the throughput that it stands for, `1.22 µm (1.87e-5 Pa·m³/s)`.
fn size_with_flow(um: f64) -> String {
    let size = LeakSize::from_flow_equivalent(physics::quantities::Length::from_um(um));
    match size {
        Ok(size) => format!(
            "{} µm ({} Pa·m³/s)",
            rounded(um),
            rounded(size.reference_throughput_pa_m3_per_s())
        ),
        Err(_) => format!("{} µm", rounded(um)),
    }
}

/// The free volume with its standard uncertainty.
fn free_volume(case: &Case) -> String {
    let free = &case.input.rig.free_volume;
    let volume = rounded(free.value.ml());
    match free.standard_uncertainty_si {
        Some(u) => {
            format!("{volume} mL free volume (standard uncertainty {} mL)", rounded(u * 1.0e6))
        }
        None => format!("{volume} mL free volume"),
    }
}

/// Largest nominal size up to which, counted from the largest fully missed or
/// partly missed size on, every unit was found.
fn largest_found(detection: &Detection) -> Option<f64> {
    let last_miss = detection.by_size.iter().rposition(|row| row.hits < row.of);
    let from = last_miss.map_or(0, |index| index + 1);
    detection.by_size.get(from..)?.last().map(|row| row.nominal_um)
}

/// Says so where the claimed size does not reach the leak that matters.
fn unmet_need(case: &Case, size_um: f64) -> Option<Note> {
    let mall = case.input.profile.mall.as_ref()?;
    let needed = crate::forecast::mall_at_reference(mall).ok().flatten()?;
    let needed_um = needed.flow_equivalent_diameter.um();
    (size_um > needed_um).then(|| {
        Note::refusal(
            "need-not-reached",
            format!(
                "the proven size ({} µm) is larger than the leak that matters ({} µm)",
                rounded(size_um),
                rounded(needed_um)
            ),
            "lower the background or the free volume, or use another physical principle",
        )
    })
}

fn not_covered(case: &Case) -> Vec<String> {
    let mut list = vec![
        "other containers, fills, products, rigs and sites".to_owned(),
        "leaks that are closed, healed or plugged at the time of the test".to_owned(),
    ];
    if case.input.profile.product.fill == Fill::Liquid {
        list.push("leaks wetted by the product".to_owned());
    }
    if let Some(note) = crate::mall::asked_beyond_stated(&case.input) {
        list.push(format!("the shelf life: {}", note.text));
    }
    if let Some((from, to)) = case.forecast.as_ref().and_then(|forecast| forecast.blind_gap_um) {
        list.push(format!(
            "leaks from {} to {} µm flow-equivalent, which empty the headspace before the measure \
             stage",
            rounded(from),
            rounded(to)
        ));
    }
    list
}

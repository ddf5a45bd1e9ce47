//! What was found, in plain words, with one thing to do next.

use super::findings::{Findings, FoundTerm, Verdict};
use super::term::Cause;
use crate::wording::rounded;

/// Fills in the sentence and the next step.
pub(super) fn write(findings: &mut Findings) {
    findings.sentence = sentence(findings);
    findings.next_step = next_step(findings);
}

fn sentence(findings: &Findings) -> String {
    let mut text = match findings.verdict {
        Verdict::AtFullScale => {
            return "The gauge stood at its end: this is at least a gross inflow and never a \
                    tight unit; its rise cannot be read."
                .to_owned();
        }
        Verdict::CannotSay => {
            return "The gauge did not move at all, so that this record says nothing of the unit."
                .to_owned();
        }
        Verdict::Leak | Verdict::LeakOrOther => leak_sentence(findings),
        Verdict::NoLeakSeen => pass_sentence(findings),
    };
    let small_pa = findings.residuals.as_ref().map_or(0.0, |left| 0.5 * left.sd_pa);
    let shares: Vec<String> = findings
        .terms
        .iter()
        .filter(|term| term.rise_pa.abs() > small_pa)
        .map(share_words)
        .collect();
    if !shares.is_empty() {
        text.push_str(&format!(
            " Of the rise of {} Pa: {}.",
            rounded(findings.rise_pa),
            shares.join(", ")
        ));
    }
    text
}

fn share_words(term: &FoundTerm) -> String {
    let mut names = vec![term.cause.word()];
    names.extend(term.could_also_be.iter().map(|cause| cause.word()));
    format!("{} Pa {}", rounded(term.rise_pa), names.join(" or "))
}

fn leak_sentence(findings: &Findings) -> String {
    let Some(rate) = findings.leak_rate else {
        return "The record needs an inflow that falls off, and a headspace that emptied before \
                measuring may have left it: no leak rate can be said."
            .to_owned();
    };
    if rate.one_sided {
        let mut text = format!(
            "The record needs a steady rise of {} Pa/s ({} to {} at 95 %), from a leak, a drift of \
             the gauge or both: the leak is at most {} Pa/s ({} %).",
            rounded(rate.estimate_pa_per_s),
            rounded(rate.rise_lower_pa_per_s),
            rounded(rate.rise_upper_pa_per_s),
            rounded(rate.upper_pa_per_s),
            rounded(rate.confidence * 100.0)
        );
        if let Some(upper_um) = findings.leak_size.and_then(|size| size.upper_um) {
            text.push_str(&format!(
                " Through the headspace given that is at most {} µm flow-equivalent{}.",
                rounded(upper_um),
                if may_have_emptied(findings) {
                    ", unless the unit emptied before measuring"
                } else {
                    ""
                }
            ));
        }
        return text;
    }
    let begin = if findings.verdict == Verdict::Leak {
        "The record needs a steady inflow"
    } else {
        "The record needs an inflow that may be a leak or something else"
    };
    let mut text = format!(
        "{begin} of {} Pa/s ({} to {} at {} %).",
        rounded(rate.estimate_pa_per_s),
        rounded(rate.lower_pa_per_s),
        rounded(rate.upper_pa_per_s),
        rounded(rate.confidence * 100.0)
    );
    if let Some(size) = findings.leak_size {
        let upper = size.upper_um.map_or_else(|| "an open end".to_owned(), rounded);
        text.push_str(&format!(
            " Through the headspace given that is {} µm flow-equivalent ({} to {upper}{}).",
            rounded(size.estimate_um),
            rounded(size.lower_um),
            if may_have_emptied(findings) {
                ", unless the unit emptied before measuring"
            } else {
                ""
            }
        ));
    }
    text
}

fn may_have_emptied(findings: &Findings) -> bool {
    findings.notes.iter().any(|note| note.code == super::explain::MAY_HAVE_EMPTIED)
}

fn pass_sentence(findings: &Findings) -> String {
    match (findings.excludes, findings.leak_rate) {
        (Some(two), _) => match two.largest_um {
            Some(largest) if largest > two.smallest_um => format!(
                "No leak between {} and {} µm flow-equivalent on this side; a smaller one gives \
                 too little, a larger one would have emptied the headspace before measuring and \
                 looks tight here.",
                rounded(two.smallest_um),
                rounded(largest)
            ),
            _ => format!(
                "No leak larger than {} µm flow-equivalent on this side; whether a large one \
                 emptied the headspace before measuring cannot be told here.",
                rounded(two.smallest_um)
            ),
        },
        (None, Some(rate)) => format!(
            "No leak above {} Pa/s is seen on this side; without headspace, free volume and \
             temperature this is no size, and a unit that emptied before measuring looks the same.",
            rounded(rate.upper_pa_per_s)
        ),
        (None, None) => {
            "No leak is needed on this side, and no rate can be said: a headspace that \
                         emptied before measuring may have left what falls off here."
                .to_owned()
        }
    }
}

fn next_step(findings: &Findings) -> String {
    match findings.verdict {
        Verdict::AtFullScale => {
            return "gross leak: look at the unit and at the lid seal, and compare the time to \
                    reach with that of a tight unit"
                .to_owned();
        }
        Verdict::CannotSay => return "check the gauge and its cable; repeat the run".to_owned(),
        Verdict::NoLeakSeen => {
            let emptied = "to tell a tight unit from an emptied one, compare the evacuation curve \
                           (time to reach, pressure reached) with that of tight units, or weigh \
                           the unit";
            let Some(first) = findings.terms.first().filter(|term| term.rise_pa.abs() > 0.0) else {
                return emptied.to_owned();
            };
            return format!("{}; {emptied}", action(first.cause));
        }
        Verdict::LeakOrOther => {}
        Verdict::Leak => {
            return "run a blank on the same rig and compare: a leak stays, the rig's own inflow \
                    is in both"
                .to_owned();
        }
    }
    let other = findings
        .terms
        .iter()
        .flat_map(|term| core::iter::once(&term.cause).chain(&term.could_also_be))
        .find(|cause| !cause.is_leak());
    other.map_or_else(|| "measure longer".to_owned(), |&cause| action(cause).to_owned())
}

/// What to do about a cause.
const fn action(cause: Cause) -> &'static str {
    match cause {
        Cause::Leak | Cause::EmptyingLeak => "repeat the run: an emptied unit gives less",
        Cause::Outgassing => "pump or wait longer before measuring; outgassing falls with time",
        Cause::Vapour => "dry the chamber and the outside of the unit",
        Cause::Thermal => "let the chamber settle longer before measuring",
        Cause::Creep => "support the container or settle longer, until it has given way",
        Cause::Step => "check the plunger or stopper: something moved during the test",
        Cause::Drift => "check the zero of the gauge against a second one",
    }
}

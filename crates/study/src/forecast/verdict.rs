//! The plain answer: yes, yes if, or no, and why.

use super::leak_size::LeakSize;
use super::{Answer, Verdict, Window};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::profile::LeakStatement;
use crate::wording::rounded;

/// Decides the verdict from the window and the leak that matters.
pub(super) fn decide(
    input: &CaseInput,
    window: &Window,
    mall: Option<&LeakSize>,
    blind_gap_um: Option<(f64, f64)>,
    notes: &mut Vec<Note>,
) -> Verdict {
    if let Some((from, to)) = blind_gap_um {
        notes.push(Note::caution(
            "blind-gap",
            format!(
                "leaks from {} to {} µm flow-equivalent are missed: the headspace has emptied \
                 before the measure stage, and the reach limit does not see them yet",
                rounded(from),
                rounded(to)
            ),
            "add an earlier tier with its own reach limit, or shorten evacuation and settling; \
             place a positive control inside this stretch",
        ));
    }
    let Some(smallest) = window.smallest else {
        return Verdict {
            answer: Answer::No,
            because: "no size of leak reaches the required detection on this rig; see what limits \
                      it"
            .to_owned(),
        };
    };
    let Some(mall) = mall else {
        return without_reference_limit(input, notes);
    };
    let needed = mall.flow_equivalent_diameter.um();
    let in_gap = blind_gap_um.is_some_and(|(from, to)| needed >= from && needed <= to);
    if in_gap {
        return Verdict {
            answer: Answer::No,
            because: format!(
                "the leak that matters ({} µm flow-equivalent) lies in the blind gap of this cycle",
                rounded(needed)
            ),
        };
    }
    if smallest.high_um <= needed {
        let mut because = format!(
            "leaks from {} µm flow-equivalent are forecast to be found (90 % interval {} to {}), \
             and the leak that matters is {} µm",
            rounded(smallest.um),
            rounded(smallest.low_um),
            rounded(smallest.high_um),
            rounded(needed)
        );
        if let Some((from, to)) = blind_gap_um {
            because.push_str(&format!(
                "; leaks between {} and {} µm need an earlier tier",
                rounded(from),
                rounded(to)
            ));
            return Verdict { answer: Answer::YesIf, because };
        }
        return Verdict { answer: Answer::Yes, because };
    }
    if smallest.low_um <= needed {
        return Verdict {
            answer: Answer::YesIf,
            because: format!(
                "the smallest detectable leak is forecast at {} µm, but its 90 % interval ({} to \
                 {}) holds the leak that matters ({} µm): free volume, headspace and background \
                 must be measured first",
                rounded(smallest.um),
                rounded(smallest.low_um),
                rounded(smallest.high_um),
                rounded(needed)
            ),
        };
    }
    Verdict {
        answer: Answer::No,
        because: format!(
            "the smallest detectable leak is forecast at {} µm (90 % interval {} to {}), above the \
             leak that matters ({} µm)",
            rounded(smallest.um),
            rounded(smallest.low_um),
            rounded(smallest.high_um),
            rounded(needed)
        ),
    }
}

fn without_reference_limit(input: &CaseInput, notes: &mut Vec<Note>) -> Verdict {
    let helium = input
        .profile
        .mall
        .as_ref()
        .is_some_and(|mall| matches!(mall.stated, LeakStatement::HeliumFlow(_)));
    let because = if helium {
        notes.push(Note::caution(
            "helium-track",
            "the limit is a helium figure; it has no fixed conversion to air and stands on its own \
             track of the ladder",
            "state the leak path that the helium figure stands for, and convert it with \
             “isobar leak”",
        ));
        "the leak that matters is stated for helium and is not compared with the air window"
    } else {
        notes.push(Note::caution(
            "no-limit",
            "nobody has stated the leak that matters, so the window cannot be judged",
            "add a maximum allowable leakage limit with its reasoning to the profile",
        ));
        "the leak that matters has not been stated"
    };
    Verdict { answer: Answer::NotAsked, because: because.to_owned() }
}

//! The plain answer: yes, yes if, or no, and why.

use super::leak_size::LeakSize;
use super::{Answer, FalseRejects, LiquidSide, Verdict, Window, false_rejects, other_principles};
use crate::case_input::CaseInput;
use crate::container_load::too_weak;
use crate::notes::Note;
use crate::profile::{Fill, LeakStatement};
use crate::wording::{percent, rounded};

/// What the verdict is decided from.
pub(super) struct Found<'a> {
    pub window: &'a Window,
    /// The leak that matters, where it has a size in air.
    pub mall: Option<&'a LeakSize>,
    pub blind_gap_um: Option<(f64, f64)>,
    pub liquid_side: Option<&'a LiquidSide>,
    pub false_rejects: &'a FalseRejects,
}

/// Decides the verdict: on the gas side first, then under the liquid where the
/// product has one. A no comes with what else could be asked.
pub(super) fn decide(input: &CaseInput, found: &Found<'_>, notes: &mut Vec<Note>) -> Verdict {
    let mut verdict = on_the_gas_side(input, found, notes);
    let asked =
        verdict.answer != Answer::NotAsked && too_weak(input, input.cycle.lowest_pa()).is_empty();
    if asked && input.profile.product.fill == Fill::Liquid {
        let (reached, words) = under_the_liquid(input, found);
        if verdict.answer == Answer::Yes && !reached {
            verdict.answer = Answer::YesIf;
        }
        verdict.because.push_str("; ");
        verdict.because.push_str(&words);
    }
    let by_limits = found.false_rejects.probability > false_rejects::MOST_ARE_REJECTED;
    if verdict.answer == Answer::No && !by_limits {
        notes.push(other_principles::note(input));
    }
    // Another principle does not mend a limit that rejects tight units.
    if too_weak(input, input.cycle.lowest_pa()).is_empty()
        && let Some((surely, words)) = false_rejects::too_many(found.false_rejects, notes)
    {
        match verdict.answer {
            Answer::NotAsked => {}
            _ if surely => verdict = Verdict { answer: Answer::No, because: words },
            answer => {
                if answer == Answer::Yes {
                    verdict.answer = Answer::YesIf;
                }
                verdict.because.push_str(&format!("; {words}"));
            }
        }
    }
    verdict
}

/// Whether the leak that matters is found under the liquid as well, and words
/// for it. A leak that holds liquid has no flow of gas, so that the two are
/// compared by the bore of one channel through the wall.
fn under_the_liquid(input: &CaseInput, found: &Found<'_>) -> (bool, String) {
    let Some(liquid) = found.liquid_side else {
        let words = "this holds above the liquid only: of the liquid too little is stated to say \
                     what a leak under it shows";
        return (false, words.to_owned());
    };
    let (Some(smallest), Some(largest)) = (liquid.smallest_um, liquid.largest_um) else {
        return (
            false,
            format!(
                "this holds above the liquid only: under it no leak is found, in a chamber at {} Pa \
                 and with a vapour pressure of {} Pa",
                rounded(liquid.chamber_pa),
                rounded(liquid.vapour_pressure_pa)
            ),
        );
    };
    let wall = input.profile.container.wall.value;
    let needed = found.mall.and_then(|mall| mall.channel_bore(wall).ok()).map(|bore| bore.um());
    let range = format!(
        "bores from {} {} {} µm",
        rounded(smallest),
        if liquid.largest_is_at_least { "to at least" } else { "to" },
        rounded(largest)
    );
    let Some(needed) = needed else {
        return (false, format!("under the liquid {range} are forecast to be found"));
    };
    let upper = liquid.spread.as_ref().and_then(|spread| spread.smallest_um);
    let reached = upper.map_or(smallest, |(_, high)| high) <= needed
        && (needed <= largest || liquid.largest_is_at_least);
    let words = if reached {
        format!(
            "under the liquid {range} are found, and the leak that matters has one of {} µm",
            rounded(needed)
        )
    } else {
        format!(
            "this holds above the liquid only: under it {range} are found, and the leak that matters \
             has a bore of {} µm",
            rounded(needed)
        )
    };
    (reached, words)
}

fn on_the_gas_side(input: &CaseInput, found: &Found<'_>, notes: &mut Vec<Note>) -> Verdict {
    let &Found { window, mall, blind_gap_um, .. } = found;
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
    // What the test could see does not matter where it would break what it tests.
    let failed = too_weak(input, input.cycle.lowest_pa());
    if let Some(first) = failed.first() {
        for check in &failed {
            notes.push(Note::refusal(
                "container-too-weak",
                format!("{}: {}", check.subject, check.finding),
                "evacuate less (`isobar design` looks for a weaker vacuum), support the container \
                 or hold its plunger in the fixture",
            ));
        }
        return Verdict {
            answer: Answer::No,
            because: format!(
                "the container does not stand this cycle ({}): {}",
                first.subject, first.finding
            ),
        };
    }
    let Some(smallest) = window.smallest else {
        return Verdict {
            answer: Answer::No,
            because: format!(
                "no size of leak is found with {} % probability on this rig; see what limits it",
                percent(input.profile.purpose.required_detection)
            ),
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
            "leaks from {} µm flow-equivalent are forecast to be found with at least {} % probability \
             (90 % interval of that size {} to {}), and the leak that matters is {} µm",
            rounded(smallest.um),
            percent(input.profile.purpose.required_detection),
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
                "the smallest leak found with {} % probability is forecast at {} µm, but its 90 % \
                 interval ({} to {}) holds the leak that matters ({} µm): free volume, headspace and \
                 background must be measured first",
                percent(input.profile.purpose.required_detection),
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
            "the smallest leak found with {} % probability is forecast at {} µm (90 % interval {} to \
             {}), above the leak that matters ({} µm)",
            percent(input.profile.purpose.required_detection),
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

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use super::*;
    use physics::quantities::AbsolutePressure;

    fn verdict(input: &CaseInput) -> (Verdict, Vec<Note>) {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
        (found.verdict, found.notes)
    }

    #[test]
    fn a_liquid_product_is_answered_for_above_and_under_the_liquid() {
        let input = crate::worked_cases::liquid_vial();
        let (both, _) = verdict(&input);
        assert!(both.because.contains("under the liquid bores from"), "{}", both.because);
        // A chamber above the vapour pressure sees nothing under the liquid: the
        // answer holds above it only.
        let mut weak = input.clone();
        for purposed in &mut weak.cycle.tiers {
            purposed.tier.evacuate_to = AbsolutePressure::from_pa(4000.0);
        }
        let (gas_only, _) = verdict(&weak);
        assert_ne!(gas_only.answer, Answer::Yes);
        assert!(gas_only.because.contains("above the liquid only"), "{}", gas_only.because);
        // Nothing stated of the liquid.
        let mut unknown = input;
        unknown.profile.product.liquid = None;
        let (unknown, _) = verdict(&unknown);
        assert_ne!(unknown.answer, Answer::Yes);
        assert!(unknown.because.contains("too little is stated"), "{}", unknown.because);
        // A dry product has no liquid side.
        let (dry, _) = verdict(&crate::worked_cases::lyophilised_vial());
        assert!(!dry.because.contains("liquid"), "{}", dry.because);
    }

    #[test]
    fn a_no_says_what_else_could_be_asked_and_a_yes_does_not() {
        let mut input = crate::worked_cases::lyophilised_vial();
        let named = |notes: &[Note]| notes.iter().any(|note| note.code == "other-principles");
        let (yes, notes) = verdict(&input);
        assert!(yes.answer != Answer::No && !named(&notes));
        if let Some(mall) = &mut input.profile.mall {
            let um = physics::quantities::Length::from_um(0.3);
            mall.stated = LeakStatement::FlowEquivalentDiameter(um);
        }
        let (no, notes) = verdict(&input);
        assert!(no.answer == Answer::No && named(&notes));
    }
}

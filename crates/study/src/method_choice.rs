//! A candidate of the design as the next version of the method of a case.

use crate::case_input::CaseInput;
use crate::container_load::too_weak;
use crate::design::{Candidate, Design};
use crate::forecast::{Forecast, ForecastError, ForecastSettings, forecast};
use crate::method::{Method, design_method};
use crate::wording::rounded;

/// A candidate that was taken: the case with its cycle, what that is forecast to
/// see, and the method.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The case with the cycle of the candidate.
    pub input: CaseInput,
    /// Its forecast.
    pub forecast: Forecast,
    /// The method, one version after the one in force.
    pub method: Method,
}

/// Why a candidate cannot be taken.
#[derive(Debug, thiserror::Error)]
pub enum ChoiceError {
    /// No such candidate.
    #[error("the front has {n} cycles, and number {place} is none of them")]
    NoCandidate {
        /// Asked for, counted from 1.
        place: usize,
        /// How many there are.
        n: usize,
    },
    /// Nothing would change.
    #[error("the method in force, version {version}, has this cycle and these limits already")]
    InForce {
        /// Version in force.
        version: u32,
    },
    /// The container does not stand it.
    #[error("the container does not stand this cycle ({subject}): {finding}")]
    TooWeak {
        /// The check that fails.
        subject: String,
        /// Its figures.
        finding: String,
    },
    /// The forecast of the candidate failed.
    #[error("{0}")]
    Forecast(#[from] ForecastError),
}

/// Takes a candidate of the front, counted from 0, as the next version after
/// the method in force.
///
/// # Errors
/// A place outside the front, a cycle that the container does not stand, one
/// that is in force already, or one that cannot be forecast.
pub fn choose(
    input: &CaseInput,
    in_force: Option<&Method>,
    found: &Design,
    place: usize,
) -> Result<Choice, ChoiceError> {
    let candidate = found
        .front
        .get(place)
        .ok_or(ChoiceError::NoCandidate { place: place + 1, n: found.front.len() })?;
    if let Some(check) = too_weak(input, candidate.cycle.lowest_pa()).into_iter().next() {
        return Err(ChoiceError::TooWeak { subject: check.subject, finding: check.finding });
    }
    let mut input = input.clone();
    input.cycle = candidate.cycle.clone();
    let chosen = found.chosen == Some(place);
    let forecast = match &found.forecast {
        Some(forecast) if chosen => forecast.clone(),
        _ => {
            let settings = ForecastSettings { seed: found.seed, ..ForecastSettings::default() };
            forecast(&input, &settings, &|_, _| {})?
        }
    };
    let mut method = design_method(&input, &forecast);
    explain_search(&mut method, found, candidate, chosen);
    if let Some(in_force) = in_force {
        if in_force.cycle == method.cycle {
            return Err(ChoiceError::InForce { version: in_force.version });
        }
        method.version = in_force.version + 1;
    }
    Ok(Choice { input, forecast, method })
}

/// Numbers that the search chose say so, instead of “given with the case”.
fn explain_search(method: &mut Method, found: &Design, candidate: &Candidate, chosen: bool) {
    let share = candidate
        .share_of_draws
        .map_or_else(String::new, |share| format!(" in {} % of the draws", rounded(100.0 * share)));
    let why = match (chosen, found.target_um) {
        (true, Some(target_um)) => format!(
            "part of the quickest of {} cycles considered that finds {} µm and every larger \
             leak{share}",
            found.n_considered,
            rounded(target_um)
        ),
        _ => format!(
            "taken from the front of {} cycles considered: none of the others is both quicker \
             and finer",
            found.n_considered
        ),
    };
    let last = format!("tier {}", candidate.cycle.tiers.len());
    let times = candidate.cycle.tiers.last().map(|last| {
        let (settle, measure) = (last.tier.settle.s(), last.tier.measure.s());
        let ranges = found.ranges.as_ref().filter(|_| chosen);
        (
            ranges.and_then(|ranges| ranges.settle_range_s(settle, measure)),
            ranges.and_then(|ranges| ranges.measure_range_s(settle, measure)),
        )
    });
    let works = |range: Option<(f64, f64)>| {
        range.map_or_else(String::new, |(low, high)| {
            format!("; {} to {} s work as well", rounded(low), rounded(high))
        })
    };
    for reason in &mut method.reasons {
        let Some((tier, what)) = reason.parameter.split_once(", ") else { continue };
        let range = match (tier == last, what, times) {
            (true, "settle", Some((settle, _))) => works(settle),
            (true, "measure", Some((_, measure))) => works(measure),
            _ => String::new(),
        };
        reason.reason = match what {
            "evacuate to" => {
                format!("{why}; the lower, the less a change of temperature weighs")
            }
            "settle" => format!("{why}{range}; {}", reason.reason),
            "measure" => {
                format!("{why}{range}; the rise of a steady leak grows in proportion")
            }
            _ => continue,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::{DesignSettings, design};

    #[test]
    fn a_cycle_that_the_container_does_not_stand_is_neither_offered_nor_taken() {
        use crate::provenance::{Provenance, Sourced};
        use physics::quantities::{AbsolutePressure, PressureDifference};
        let mut input = crate::worked_cases::lyophilised_vial();
        input.profile.headspace.pressure.value = AbsolutePressure::from_atm(1.0);
        let settings = DesignSettings { n_draws: 16, n_sizes: 25, ..DesignSettings::default() };
        let strong = design(&input, &settings, &|_, _| {}).expect("design");
        assert!(strong.front.iter().any(|one| one.cycle.lowest_pa() < 1.0e4));
        // It stands 0.5 bar: chambers from 51 325 Pa up.
        let stands = |bar: f64| {
            let pa = PressureDifference::from_pa(bar * 1.0e5);
            Some(Sourced::new(pa, Provenance::assumed("invented")))
        };
        input.profile.container.strength.withstands = stands(0.5);
        assert!(matches!(
            choose(&input, None, &strong, 0),
            Err(ChoiceError::TooWeak { ref finding, .. }) if finding.contains("0.5 bar")
        ));
        input.rig.sensor.range = AbsolutePressure::from_pa(1.2e5);
        let weak = design(&input, &settings, &|_, _| {}).expect("design");
        assert!(!weak.front.is_empty(), "{:?}", weak.notes);
        assert!(weak.front.iter().all(|one| one.cycle.lowest_pa() >= 51_325.0));
        assert!(weak.notes.iter().any(|note| note.code == "pressures-barred"));
        // A gauge that ends below that pressure reads none of these cycles.
        input.rig.sensor.range = AbsolutePressure::from_pa(2.0e3);
        assert!(design(&input, &settings, &|_, _| {}).expect("design").front.is_empty());
        // The case with its own strong vacuum: a plain no, whatever it could see.
        let forecast = crate::forecast::forecast(
            &input,
            &ForecastSettings { n_draws: 16, ..ForecastSettings::default() },
            &|_, _| {},
        )
        .expect("forecast");
        assert_eq!(forecast.verdict.answer, crate::forecast::Answer::No);
        assert!(forecast.verdict.because.contains("does not stand"));
        let method = design_method(&input, &forecast);
        assert!(method.notes.iter().any(|note| note.code == "container-too-weak"));
        // One that stands nothing is offered nothing.
        input.profile.container.strength.withstands = stands(-0.1);
        let none = design(&input, &settings, &|_, _| {}).expect("design");
        assert!(none.front.is_empty());
        assert!(none.notes.iter().any(|note| note.code == "no-pressure-stood"));
    }

    #[test]
    fn a_change_makes_the_next_version_and_no_change_makes_none() {
        let input = crate::worked_cases::lyophilised_vial();
        let settings = DesignSettings { n_draws: 16, n_sizes: 25, ..DesignSettings::default() };
        let found = design(&input, &settings, &|_, _| {}).expect("design");
        let place = found.chosen.expect("a method");
        let first = choose(&input, None, &found, place).expect("taken");
        assert_eq!(first.method.version, 1);
        assert_eq!(Some(&first.forecast), found.forecast.as_ref());
        // Nobody gave these numbers with the case: the search chose them.
        let reason = |what: &str| {
            let end = format!("{}, {what}", format_args!("tier {}", first.input.cycle.tiers.len()));
            first.method.reasons.iter().find(|one| one.parameter == end).expect("a reason")
        };
        for what in ["evacuate to", "settle", "measure"] {
            assert!(reason(what).reason.contains("quickest of"), "{what}");
        }
        assert!(reason("settle").reason.contains("work as well"));
        assert!(matches!(
            choose(&first.input, Some(&first.method), &found, place),
            Err(ChoiceError::InForce { version: 1 })
        ));
        let other = (place + 1) % found.front.len();
        let second = choose(&first.input, Some(&first.method), &found, other).expect("taken");
        assert_eq!(second.method.version, 2);
        assert_ne!(second.method.cycle, first.method.cycle);
        assert!(matches!(
            choose(&input, None, &found, 999),
            Err(ChoiceError::NoCandidate { place: 1000, .. })
        ));
    }
}

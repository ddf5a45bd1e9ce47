//! A candidate of the design as the next version of the method of a case.

use crate::case_input::CaseInput;
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
    /// The forecast of the candidate failed.
    #[error("{0}")]
    Forecast(#[from] ForecastError),
}

/// Takes a candidate of the front, counted from 0, as the next version after
/// the method in force.
///
/// # Errors
/// A place outside the front, a cycle that is in force already, or one that
/// cannot be forecast.
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

//! The cycles that are considered: early tiers for large leaks, and a last
//! tier for small ones.

use physics::cycle::Tier;
use physics::quantities::{AbsolutePressure, Duration};

use crate::case_input::CaseInput;
use crate::check::Check;
use crate::container_load::{lowest_stood_pa, too_weak};
use crate::cycle::PurposedTier;

/// Times of settling and measuring that are considered in the last tier, s.
pub(super) const SETTLES_S: [f64; 15] =
    [0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 30.0];
/// The same for measuring, s.
pub(super) const MEASURES_S: [f64; 14] =
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0];
/// Evacuation times after which an early tier looks for large leaks, s: a
/// large leak can be told within the first couple of seconds (common practice).
const EARLY_EVACUATIONS_S: [f64; 4] = [0.5, 1.0, 2.0, 4.0];
/// Measuring times of an early tier, s.
const EARLY_MEASURES_S: [f64; 2] = [0.5, 1.5];
/// Settling time of an early tier, s: large leaks do not wait.
const EARLY_SETTLE_S: f64 = 0.2;
/// Share by which the time for the last evacuation exceeds what a tight unit
/// takes: pumps age, and a tight unit must not fail on time.
const EVACUATION_RESERVE: f64 = 1.3;
/// Number of pressures considered for the last evacuation.
const PRESSURES: usize = 6;
/// Highest of them, Pa.
const HIGHEST_PA: f64 = 5_000.0;

/// The tiers before the last, as evacuation and measuring times.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Early {
    pub tiers: Vec<(f64, f64)>,
}

/// All choices of early tiers: none, one, or two of rising evacuation time.
pub(super) fn early_choices() -> Vec<Early> {
    let single: Vec<(f64, f64)> = EARLY_EVACUATIONS_S
        .iter()
        .flat_map(|evacuate| EARLY_MEASURES_S.iter().map(move |measure| (*evacuate, *measure)))
        .collect();
    let mut out = vec![Early { tiers: Vec::new() }];
    out.extend(single.iter().map(|tier| Early { tiers: vec![*tier] }));
    for first in &single {
        for second in single.iter().filter(|second| second.0 > first.0) {
            out.push(Early { tiers: vec![*first, *second] });
        }
    }
    out
}

/// Pressures that are looked at where the container stands no lower ones, Pa.
const WEAK_PA: [f64; 6] = [7.0e3, 1.0e4, 2.0e4, 3.5e4, 5.0e4, 7.0e4];

/// Pressures considered for the last evacuation.
pub(super) struct Pressures {
    /// Those that are tried, Pa, rising.
    pub tried: Vec<f64>,
    /// The lowest of those that the container does not stand, and what fails
    /// there.
    pub barred: Option<(f64, Vec<Check>)>,
}

/// Pressures considered for the last evacuation: the one of the case, and a row
/// from just above what the pump reaches. Those that container, closure or
/// plunger do not stand are left out, and weaker ones taken in.
pub(super) fn pressures(input: &CaseInput) -> Pressures {
    let wished = wished(input);
    let barred = wished.first().and_then(|&pa| {
        let failed = too_weak(input, pa);
        (!failed.is_empty()).then_some((pa, failed))
    });
    let mut tried = wished;
    if let Some((lowest_pa, _)) = &barred {
        let headspace_pa = input.profile.headspace.pressure.value.pa();
        tried.extend(WEAK_PA.into_iter().filter(|&pa| pa < headspace_pa));
        if let Some(floor_pa) = lowest_stood_pa(input, *lowest_pa) {
            // Rounded up, to what is stood.
            let dialled = two_digits(floor_pa);
            tried.push(if dialled >= floor_pa { dialled } else { two_digits(1.1 * floor_pa) });
        }
        tried.retain(|&pa| pa < headspace_pa && too_weak(input, pa).is_empty());
    }
    tried.sort_by(f64::total_cmp);
    tried.dedup();
    Pressures { tried, barred }
}

/// The pressures that would be tried on a container that stands every one, Pa.
fn wished(input: &CaseInput) -> Vec<f64> {
    let lowest = (2.0 * input.rig.pump.ultimate.pa()).max(20.0);
    let mut out = if lowest < HIGHEST_PA {
        crate::forecast::log_grid(lowest, HIGHEST_PA, PRESSURES)
            .into_iter()
            .map(two_digits)
            .collect()
    } else {
        vec![lowest]
    };
    if let Some(last) = input.cycle.tiers.last() {
        out.push(last.tier.evacuate_to.pa());
    }
    out.sort_by(f64::total_cmp);
    out.dedup();
    out
}

/// Two significant digits: a setting that somebody can dial.
fn two_digits(value: f64) -> f64 {
    let unit = digits::scalar::powi(10.0, digits::scalar::log10(value).floor() as i32 - 1);
    (value / unit).round() * unit
}

/// Time allowed for an evacuation that takes a tight unit so long, s.
pub(super) fn allowed_s(tight_s: f64) -> f64 {
    (tight_s * EVACUATION_RESERVE * 2.0).ceil() / 2.0
}

/// The early tiers of a cycle, evacuating toward the same pressure as the
/// last: their reach limit looks at the pressure after their time.
pub(super) fn early_tiers(early: &Early, pressure_pa: f64) -> Vec<PurposedTier> {
    early
        .tiers
        .iter()
        .map(|&(evacuate_s, measure_s)| PurposedTier {
            purpose: "large leaks, before their headspace has emptied".to_owned(),
            tier: tier(pressure_pa, evacuate_s, EARLY_SETTLE_S, measure_s),
        })
        .collect()
}

/// The last tier of a cycle.
pub(super) fn last_tier(
    pressure_pa: f64,
    evacuate_s: f64,
    settle_s: f64,
    measure_s: f64,
) -> PurposedTier {
    PurposedTier {
        purpose: "the smallest leaks".to_owned(),
        tier: tier(pressure_pa, evacuate_s, settle_s, measure_s),
    }
}

fn tier(pressure_pa: f64, evacuate_s: f64, settle_s: f64, measure_s: f64) -> Tier {
    Tier {
        evacuate_to: AbsolutePressure::from_pa(pressure_pa),
        evacuate_limit: Duration::from_s(evacuate_s),
        reach_limit: None,
        settle: Duration::from_s(settle_s),
        measure: Duration::from_s(measure_s),
        rise_limit: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_can_be_dialled() {
        assert_eq!(two_digits(123.4), 120.0);
        assert_eq!(two_digits(0.0567), 0.057);
        assert_eq!(allowed_s(3.1), 4.5);
    }

    #[test]
    fn early_tiers_rise_in_evacuation_time() {
        let choices = early_choices();
        assert_eq!(choices.len(), 1 + 8 + 24);
        for early in &choices {
            assert!(early.tiers.windows(2).all(|pair| pair[0].0 < pair[1].0));
        }
    }
}

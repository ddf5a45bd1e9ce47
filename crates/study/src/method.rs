//! Method: the test cycle, its limits, and a reason for every number.

use physics::quantities::{AbsolutePressure, PressureDifference};

use crate::case_input::CaseInput;
use crate::container_load::too_weak;
pub use crate::cycle::{Cycle, PurposedTier};
use crate::forecast::Forecast;
use crate::notes::Note;
use crate::wording::rounded;

/// A test method: a cycle with limits, versioned.
#[derive(Debug, Clone, PartialEq)]
pub struct Method {
    /// Counted from 1; a change makes the next one.
    pub version: u32,
    /// The cycle with its limits filled in.
    pub cycle: Cycle,
    /// One line for every number: what, how much, why.
    pub reasons: Vec<Reason>,
    /// What the reader should know of it.
    pub notes: Vec<Note>,
}

/// A number of the method and why it is that number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// Which number.
    pub parameter: String,
    /// The number with its unit.
    pub value: String,
    /// Why.
    pub reason: String,
}

/// Turns the cycle of a case into a method: limits that were left open are
/// set from the forecast, and every number gets its reason.
#[must_use]
pub fn design_method(input: &CaseInput, forecast: &Forecast) -> Method {
    let mut cycle = input.cycle.clone();
    let mut reasons = Vec::new();
    // A method that may break what it tests says so first.
    let mut notes: Vec<Note> = too_weak(input, cycle.lowest_pa())
        .into_iter()
        .map(|check| {
            Note::refusal(
                "container-too-weak",
                format!("{}: {}", check.subject, check.finding),
                "do not run this method; evacuate less, support the container or hold its plunger",
            )
        })
        .collect();
    let last = cycle.tiers.len().saturating_sub(1);
    for (index, purposed) in cycle.tiers.iter_mut().enumerate() {
        let name = format!("tier {}", index + 1);
        let reach_s = forecast.tight_reach_s.filter(|_| index == 0);
        let reach_pa = forecast.tiers.get(index).map(|tier| tier.tight_reach_pa);
        explain_times(&mut reasons, &name, purposed, forecast, (reach_s, reach_pa));
        let tier = &mut purposed.tier;
        let predicted = forecast.tiers.get(index);
        let tight_reach_pa = predicted.map_or(forecast.tight_reach_pa, |tier| tier.tight_reach_pa);
        if tier.reach_limit.is_none() {
            let reach = AbsolutePressure::from_pa(
                predicted.map_or(forecast.reach_limit_pa, |tier| tier.reach_limit_pa),
            );
            tier.reach_limit = Some(reach);
            reasons.push(Reason {
                parameter: format!("{name}, reach limit"),
                value: format!("{} Pa", rounded(reach.pa())),
                reason: format!(
                    "a tight unit is forecast to reach {} Pa by then; the limit leaves room for \
                     its spread, and a unit above it holds gas that the pump cannot outrun",
                    rounded(tight_reach_pa)
                ),
            });
        } else if let Some(reach) = tier.reach_limit {
            reasons.push(Reason {
                parameter: format!("{name}, reach limit"),
                value: format!("{} Pa", rounded(reach.pa())),
                reason: "given with the case".to_owned(),
            });
        }
        let measures = predicted.and_then(|tier| Some((*tier, tier.rise_limit_pa?)));
        if let Some((predicted, limit_pa)) = measures.filter(|_| index != last) {
            let given = tier.rise_limit.is_some();
            tier.rise_limit = Some(PressureDifference::from_pa(limit_pa));
            reasons.push(Reason {
                parameter: format!("{name}, rise limit"),
                value: format!("{} Pa", rounded(limit_pa)),
                reason: if given {
                    "given with the case".to_owned()
                } else {
                    format!(
                        "forecast rise of tight units {} Pa, standard deviation {} Pa, with its \
                         share of the tolerable false rejects",
                        rounded(predicted.tight_rise_pa),
                        rounded(predicted.tight_rise_sd_pa)
                    )
                },
            });
        }
        if index == last {
            let given = tier.rise_limit.is_some();
            let limit = tier
                .rise_limit
                .unwrap_or_else(|| PressureDifference::from_pa(forecast.rise_limit_pa));
            tier.rise_limit = Some(limit);
            reasons.push(Reason {
                parameter: format!("{name}, rise limit"),
                value: format!("{} Pa", rounded(limit.pa())),
                reason: if given {
                    "given with the case".to_owned()
                } else {
                    format!(
                        "forecast rise of tight units {} Pa, standard deviation {} Pa, at the \
                         tolerable false reject rate {} %; to be replaced by the limit from \
                         negative controls",
                        rounded(forecast.tight_rise_pa),
                        rounded(forecast.tight_rise_sd_pa),
                        rounded(input.profile.purpose.tolerable_false_reject.percent()),
                    )
                },
            });
            if !given {
                notes.push(Note::caution(
                    "limit-is-forecast",
                    "the rise limit of this version comes from the forecast, not from units",
                    "run the negative controls of the plan and set the limit from their results",
                ));
            }
        }
    }
    Method { version: 1, cycle, reasons, notes }
}

fn explain_times(
    reasons: &mut Vec<Reason>,
    name: &str,
    purposed: &PurposedTier,
    forecast: &Forecast,
    (reach_s, reach_pa): (Option<f64>, Option<f64>),
) {
    let tier = &purposed.tier;
    let mut push = |parameter: &str, value: String, reason: String| {
        reasons.push(Reason { parameter: format!("{name}, {parameter}"), value, reason });
    };
    push("purpose", purposed.purpose.clone(), "what this tier must find".to_owned());
    push(
        "evacuate to",
        format!("{} Pa", rounded(tier.evacuate_to.pa())),
        "given with the case; the lower, the less a change of temperature weighs".to_owned(),
    );
    push(
        "evacuate for at most",
        format!("{} s", rounded(tier.evacuate_limit.s())),
        match (reach_s, reach_pa) {
            (Some(time), _) => {
                format!("a tight unit is forecast to reach the pressure after {} s", rounded(time))
            }
            (None, Some(pressure_pa)) => format!(
                "a tight unit is forecast to be at {} Pa when this time is over or the pressure is \
                 reached",
                rounded(pressure_pa)
            ),
            (None, None) => {
                "a tight unit is not forecast to reach the pressure in this time".to_owned()
            }
        },
    );
    push(
        "settle",
        format!("{} s", rounded(tier.settle.s())),
        format!(
            "gas takes the wall temperature within about {} s; a longer settle lowers the \
             background and lets large leaks empty the headspace",
            rounded(5.0 * forecast.thermal_recovery_s)
        ),
    );
    push(
        "measure",
        format!("{} s", rounded(tier.measure.s())),
        "given with the case; the rise of a steady leak grows in proportion".to_owned(),
    );
}

//! What is checked beside detection: container, product, sensor, habit.

use super::Candidate;
use crate::case_input::CaseInput;
use crate::check::{Check, CheckOutcome, check};
use crate::container_load::load_checks;
use crate::forecast::Forecast;
use crate::profile::Fill;
use crate::wording::rounded;

/// Cycles of small chambers with vials usually end within this, s (common
/// practice).
const USUAL_LONGEST_S: f64 = 30.0;

/// Checks a chosen method.
pub(super) fn checks(input: &CaseInput, chosen: &Candidate, forecast: &Forecast) -> Vec<Check> {
    let [load, closure] = load_checks(input, chosen.cycle.lowest_pa());
    vec![
        load,
        closure,
        boiling(input, chosen),
        sensor_range(input, forecast),
        blind_gap(forecast),
        usual_time(chosen),
    ]
}

fn boiling(input: &CaseInput, chosen: &Candidate) -> Check {
    let subject = "vapour pressure of the product";
    if input.profile.product.fill == Fill::Dry {
        return check(subject, CheckOutcome::Met, "a dry product gives no liquid leak".to_owned());
    }
    let stated = input.profile.product.liquid.as_ref();
    let vapour = stated.and_then(|liquid| liquid.vapour_pressure_at(input.rig.wall_temperature));
    let Some(vapour) = vapour else {
        return check(
            subject,
            CheckOutcome::Open,
            "the vapour pressure of the product is not stated, or lies outside the table of its \
             solvent at this temperature"
                .to_owned(),
        );
    };
    let ratio = chosen.cycle.lowest_pa() / vapour.pa();
    let outcome = if ratio < 0.5 { CheckOutcome::Met } else { CheckOutcome::NotMet };
    check(
        subject,
        outcome,
        format!(
            "the chamber goes down to {} Pa, the product boils at {} Pa here; a leak that is blocked by \
             liquid shows by its vapour only well below that",
            rounded(chosen.cycle.lowest_pa()),
            rounded(vapour.pa())
        ),
    )
}

fn sensor_range(input: &CaseInput, forecast: &Forecast) -> Check {
    let range_pa = input.rig.sensor.range.pa();
    let highest_pa = forecast
        .traces
        .iter()
        .filter_map(|trace| trace.trace.pressures_pa.last())
        .fold(0.0, |high: f64, pressure| high.max(*pressure));
    let outcome = if highest_pa < range_pa { CheckOutcome::Met } else { CheckOutcome::NotMet };
    check(
        "sensor range",
        outcome,
        format!(
            "the largest leak of the window ends at {} Pa, the sensor reads to {} Pa; a sensor at \
             full scale is a leak, never a pass",
            rounded(highest_pa),
            rounded(range_pa)
        ),
    )
}

fn blind_gap(forecast: &Forecast) -> Check {
    match forecast.blind_gap_um {
        None => check(
            "blind gap",
            CheckOutcome::Met,
            "no size between the edges of the window is missed".to_owned(),
        ),
        Some((from, to)) => check(
            "blind gap",
            CheckOutcome::NotMet,
            format!("leaks from {} to {} µm are missed", rounded(from), rounded(to)),
        ),
    }
}

fn usual_time(chosen: &Candidate) -> Check {
    let time = chosen.tight_time_s;
    let outcome = if time <= USUAL_LONGEST_S { CheckOutcome::Met } else { CheckOutcome::NotMet };
    check(
        "time of a cycle",
        outcome,
        format!(
            "a tight unit takes {} s; small chambers usually end within 20 to 30 s (common \
             practice)",
            rounded(time)
        ),
    )
}

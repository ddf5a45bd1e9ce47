//! What is checked beside detection: container, product, sensor, habit.

use super::Candidate;
use crate::case_input::CaseInput;
use crate::forecast::Forecast;
use crate::profile::{ContainerKind, Fill};
use crate::wording::rounded;

/// How a check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckOutcome {
    /// Nothing speaks against it.
    Met,
    /// Something speaks against it.
    NotMet,
    /// A figure is missing.
    Open,
}

impl CheckOutcome {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::NotMet => "not met",
            Self::Open => "open",
        }
    }
}

/// A check with its outcome.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    /// What was checked.
    pub subject: String,
    /// How it came out.
    pub outcome: CheckOutcome,
    /// The figures, and what to do where it is not met.
    pub finding: String,
}

/// Cycles of small chambers with vials usually end within this, s (common
/// practice).
const USUAL_LONGEST_S: f64 = 30.0;

/// Checks a chosen method.
pub(super) fn checks(input: &CaseInput, chosen: &Candidate, forecast: &Forecast) -> Vec<Check> {
    vec![
        load_on_container(input, chosen),
        moving_closure(input, chosen),
        boiling(input, chosen),
        sensor_range(input, forecast),
        blind_gap(forecast),
        usual_time(chosen),
    ]
}

fn check(subject: &str, outcome: CheckOutcome, finding: String) -> Check {
    Check { subject: subject.to_owned(), outcome, finding }
}

fn lowest_pa(chosen: &Candidate) -> f64 {
    chosen
        .cycle
        .tiers
        .iter()
        .map(|purposed| purposed.tier.evacuate_to.pa())
        .fold(f64::INFINITY, f64::min)
}

fn load_on_container(input: &CaseInput, chosen: &Candidate) -> Check {
    let load_pa = input.profile.headspace.pressure.value.pa() - lowest_pa(chosen);
    check(
        "load on container and closure",
        CheckOutcome::Open,
        format!(
            "the pressure inside exceeds that in the chamber by {} bar; compare with what container \
             and closure were qualified for",
            rounded(load_pa.max(0.0) / 1.0e5)
        ),
    )
}

fn moving_closure(input: &CaseInput, chosen: &Candidate) -> Check {
    let moves =
        matches!(input.profile.container.kind, ContainerKind::Syringe | ContainerKind::Cartridge);
    if !moves {
        return check(
            "closure that can move",
            CheckOutcome::Met,
            "no plunger in this kind of container".to_owned(),
        );
    }
    let load_pa = (input.profile.headspace.pressure.value.pa() - lowest_pa(chosen)).max(0.0);
    let force = |bore_mm: f64| {
        let radius_m = bore_mm / 2000.0;
        load_pa * core::f64::consts::PI * radius_m * radius_m
    };
    check(
        "closure that can move",
        CheckOutcome::Open,
        format!(
            "the load pushes a plunger of 6.35 mm bore with {} N and one of 8.65 mm with {} N; \
             hold the plunger in the fixture, or show that its break-loose force is higher",
            rounded(force(6.35)),
            rounded(force(8.65))
        ),
    )
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
    let ratio = lowest_pa(chosen) / vapour.pa();
    let outcome = if ratio < 0.5 { CheckOutcome::Met } else { CheckOutcome::NotMet };
    check(
        subject,
        outcome,
        format!(
            "the chamber goes down to {} Pa, the product boils at {} Pa here; a leak that is blocked by \
             liquid shows by its vapour only well below that",
            rounded(lowest_pa(chosen)),
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

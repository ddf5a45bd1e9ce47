//! The liquid side: a hole under the product, through which liquid runs into
//! the chamber and evaporates.
//!
//! Below its holding pressure such a hole passes nothing; above, liquid runs as
//! in a capillary, boils off as the chamber lies below its vapour pressure, and
//! the chamber fills to that pressure at most. Bores are true bores through the
//! stated wall, because liquid knows no flow-equivalent diameter.

use physics::cycle::extended::{CycleExtras, Moisture, simulate_with};
use physics::liquids::{HoleContent, Liquid, LiquidState, PluggedHole, hole_content};
use physics::quantities::{AbsolutePressure, Area, Length};

use super::compute::{ForecastError, log_grid, required};
use super::response::{Response, reach_deviation, without_limits};
use super::window::edges_of;
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::trace_features;

/// Bores that are tried, µm.
const BORES_UM: (f64, f64, usize) = (1.0, 100.0, 25);
/// Liquid over the hole: more than any cycle lets out.
const OVER_THE_HOLE_KG: f64 = 1.0e-3;
/// Where the liquid comes out it spreads on glass or metal.
const SPREAD_CM2: f64 = 0.2;
/// Heat that reaches so small a film from the wall under it, W/K (working
/// value: 0.2 cm² of a 0.1 mm film on glass).
const FILM_W_PER_K: f64 = 0.05;
/// Share of the kinetic limit at which water evaporates in a chamber that is
/// not clean (published values scatter from 0.01 to 1; working value).
const EVAPORATION: f64 = 0.05;

/// What is predicted for leaks under the liquid.
#[derive(Debug, Clone, PartialEq)]
pub struct LiquidSide {
    /// Liquid whose properties were taken.
    pub liquid: String,
    /// Its vapour pressure at the temperature of the wall, Pa: the chamber must
    /// lie well below, and fills no further.
    pub vapour_pressure_pa: f64,
    /// Bore from which liquid runs against its surface tension, µm.
    pub opens_um: f64,
    /// Pressure of a tight chamber where measuring begins, in the tier where it
    /// is lowest, Pa.
    pub chamber_pa: f64,
    /// Detection by bore, rising; none where the chamber stays above the vapour
    /// pressure: evaporation is then slowed by the air in a way that is not
    /// modelled, and nothing is claimed.
    pub points: Vec<LiquidPoint>,
    /// Smallest bore found with the required probability, µm.
    pub smallest_um: Option<f64>,
    /// Largest bore up to which that holds without a gap, µm.
    pub largest_um: Option<f64>,
    /// True where it holds to the end of the bores that were tried.
    pub largest_is_at_least: bool,
}

/// What is predicted for one bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiquidPoint {
    /// True bore through the wall, µm.
    pub bore_um: f64,
    /// Liquid runs at the lowest pressure of the chamber; else it holds.
    pub runs: bool,
    /// Rise in the deciding measure stage, Pa; `None` where it has none.
    pub rise_pa: Option<f64>,
    /// Probability that a limit finds it.
    pub probability: f64,
}

/// Forecast for a product of water that wets the hole fully: the case in which
/// surface tension holds most.
pub(super) fn liquid_side(
    input: &CaseInput,
    nominal: &Response,
) -> Result<LiquidSide, ForecastError> {
    let wall = input.rig.wall_temperature;
    let liquid = Liquid::Water;
    let state = liquid.at(wall)?;
    let headspace = input.profile.headspace.pressure.value;
    let (first, last) = (nominal.first()?, nominal.last()?);
    let limit_pa = last.rise_limit_pa.ok_or(ForecastError::NoMeasureStage)?;
    let setup = without_limits(input).setup(None);
    let tight = simulate_with(&setup, &CycleExtras::default())?;
    let number = u16::try_from(input.cycle.tiers.len()).unwrap_or(u16::MAX);
    let rise_of = |trace: &physics::PressureTrace| {
        trace_features::read(trace, number).map(|found| found.rise_pa)
    };
    let tight_rise_pa = rise_of(&tight.trace).ok_or(ForecastError::NoMeasureStage)?;
    let lowest = tight
        .tiers
        .iter()
        .map(|tier| tier.plain.pressure_at_settle_end.pa())
        .fold(f64::INFINITY, f64::min);
    let drive_pa = (headspace.pa() - lowest).max(1.0);
    let (from_um, to_um, n) = BORES_UM;
    let bores =
        if lowest < state.vapour_pressure.pa() { log_grid(from_um, to_um, n) } else { Vec::new() };
    let points = bores
        .into_iter()
        .map(|bore_um| {
            let hole = PluggedHole {
                bore: Length::from_um(bore_um),
                wall: input.profile.container.wall.value,
                contact_angle_degrees: 0.0,
                outside_wetted: false,
                liquid_kg: OVER_THE_HOLE_KG,
            };
            let runs = runs(&hole, &state, headspace, AbsolutePressure::from_pa(lowest))?;
            let extras = CycleExtras {
                moisture: Some(Moisture {
                    liquid,
                    mass_kg: 0.0,
                    surface: Area::from_cm2(SPREAD_CM2),
                    heat_exchange_w_per_k: FILM_W_PER_K,
                    evaporation_coefficient: EVAPORATION,
                }),
                plugged_hole: Some(hole),
                ..CycleExtras::default()
            };
            let outcome = simulate_with(&setup, &extras)?;
            // What the hole adds counts on top of the tight unit of the
            // forecast, so that both sides are judged by one limit.
            let rise_pa =
                rise_of(&outcome.trace).map(|rise| last.tight_rise_pa + rise - tight_rise_pa);
            let missed_by_rise = rise_pa.map_or(1.0, |rise| {
                digits::normal::cumulative((limit_pa - rise) / last.tight_rise_sd_pa)
            });
            let reached_pa = trace_features::reached_pa(&outcome.trace, 1);
            let missed_by_reach = reached_pa.map_or(1.0, |reached| {
                let deviation = reach_deviation(input, reached);
                digits::normal::cumulative((first.reach_limit_pa - reached) / deviation)
            });
            let probability = 1.0 - missed_by_rise * missed_by_reach;
            Ok(LiquidPoint { bore_um, runs, rise_pa, probability })
        })
        .collect::<Result<Vec<_>, ForecastError>>()?;
    let curve: Vec<(f64, f64)> =
        points.iter().map(|point| (point.bore_um, point.probability)).collect();
    let edges = edges_of(&curve, input.profile.purpose.required_detection);
    Ok(LiquidSide {
        liquid: "water, wetting the hole (assumed)".to_owned(),
        vapour_pressure_pa: state.vapour_pressure.pa(),
        chamber_pa: lowest,
        opens_um: 4.0 * state.surface_tension_n_per_m / drive_pa * 1.0e6,
        points,
        smallest_um: edges.smallest_um,
        largest_um: edges.largest_um,
        largest_is_at_least: edges.largest_beyond,
    })
}

fn runs(
    hole: &PluggedHole,
    state: &LiquidState,
    inside: AbsolutePressure,
    outside: AbsolutePressure,
) -> Result<bool, ForecastError> {
    Ok(hole_content(hole, state, inside, outside)?.0 == HoleContent::Liquid)
}

/// What the reader should know of it.
pub(super) fn note(input: &CaseInput, found: &LiquidSide) -> Note {
    let needed = required(input.profile.purpose.required_detection) * 100.0;
    let wall_mm = input.profile.container.wall.value.mm();
    if found.points.is_empty() {
        return Note::caution(
            "liquid-side",
            format!(
                "a leak under the liquid is not claimed: the chamber stays at {:.0} Pa, above the \
                 vapour pressure of the product (taken for water, {:.0} Pa)",
                found.chamber_pa, found.vapour_pressure_pa
            ),
            "evacuate well below the vapour pressure, or find liquid leaks by another principle",
        );
    }
    let seen = match (found.smallest_um, found.largest_um) {
        (Some(smallest), Some(largest)) => format!(
            "bores from {smallest:.1} µm {} {largest:.0} µm are found with {needed:.0} %",
            if found.largest_is_at_least { "to at least" } else { "to" }
        ),
        _ => format!("no bore up to {:.0} µm is found with {needed:.0} %", BORES_UM.1),
    };
    Note::caution(
        "liquid-side",
        format!(
            "under the liquid, bores below {:.1} µm hold it back and are not seen; through a wall of \
             {wall_mm} mm {seen}, taking the product for water at its vapour pressure of {:.0} Pa",
            found.opens_um, found.vapour_pressure_pa
        ),
        "challenge with product-filled positive controls: dissolved matter, wetting and dried \
         product change it",
    )
}

#[cfg(test)]
mod tests {
    use super::super::{ForecastSettings, forecast};
    use super::*;

    fn of(input: &CaseInput) -> LiquidSide {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
        found.liquid_side.expect("a liquid")
    }

    /// Table of plausible numbers, trade.md 3.5 (common practice): liquid water
    /// through 1 mm of a 10 µm bore under 1 atm less surface tension evaporates
    /// to 2.4e-3 Pa·m³/s; the plateau is 23.4 mbar at 20 °C; a bore holds 1 atm
    /// up to 2.87 µm.
    #[test]
    fn water_through_a_vial_wall_follows_the_table() {
        let found = of(&crate::worked_cases::liquid_vial());
        assert!((found.vapour_pressure_pa / 2339.0 - 1.0).abs() < 5e-3);
        assert!((found.opens_um / 2.87 - 1.0).abs() < 0.02, "{}", found.opens_um);
        for point in &found.points {
            assert_eq!(point.runs, point.bore_um > found.opens_um, "{point:?}");
        }
        // 2.4e-3 Pa·m³/s into 25 mL for nine tenths of 8 s, above the tight unit.
        let ten = found
            .points
            .iter()
            .find(|point| (point.bore_um - 10.0).abs() < 0.01)
            .expect("a bore of 10 µm is tried");
        let tight = found.points[0].rise_pa.expect("a rise");
        let rise = ten.rise_pa.expect("a rise") - tight;
        let by_table = 2.4e-3 / 25.0e-6 * 0.9 * 8.0;
        assert!((rise / by_table - 1.0).abs() < 0.1, "{rise} {by_table}");
        let smallest = found.smallest_um.expect("found");
        assert!(smallest > found.opens_um && smallest < 10.0, "{smallest}");
    }

    /// A liquid-blocked leak needs a pressure well below the vapour pressure
    /// (common practice).
    #[test]
    fn above_the_vapour_pressure_nothing_is_claimed() {
        let mut input = crate::worked_cases::liquid_vial();
        input.cycle.tiers[0].tier.evacuate_to = AbsolutePressure::from_pa(5000.0);
        let found = of(&input);
        assert!(found.chamber_pa > found.vapour_pressure_pa);
        assert!(found.smallest_um.is_none() && found.points.is_empty());
        assert!(note(&input, &found).text.contains("not claimed"));
    }

    #[test]
    fn a_dry_product_has_no_liquid_side() {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let input = crate::worked_cases::lyophilised_vial();
        let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
        assert!(found.liquid_side.is_none());
    }
}

//! The liquid side against tables, laws and its own refusals.

use physics::quantities::AbsolutePressure;

use super::super::{ForecastSettings, forecast};
use super::*;
use crate::provenance::{Provenance, Sourced};

fn of(input: &CaseInput, n_draws: usize) -> (LiquidSide, Vec<Note>) {
    let settings = ForecastSettings { n_draws, ..ForecastSettings::default() };
    let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
    (found.liquid_side.expect("a liquid"), found.notes)
}

/// The case with a liquid of which every property is known exactly.
fn exact() -> CaseInput {
    let mut input = crate::worked_cases::liquid_vial();
    let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
    if let Some(stated) = &mut liquid.vapour_pressure {
        stated.standard_uncertainty_si = Some(0.0);
    }
    for stated in [
        &mut liquid.surface_tension_n_per_m,
        &mut liquid.viscosity_pa_s,
        &mut liquid.density_kg_per_m3,
        &mut liquid.contact_angle_degrees,
    ]
    .into_iter()
    .flatten()
    {
        stated.standard_uncertainty_si = Some(0.0);
    }
    input
}

/// Rise of one bore above that of a tight unit, Pa.
fn rise_pa(found: &LiquidSide, bore_um: f64) -> f64 {
    let point = found
        .points
        .iter()
        .find(|point| (point.bore_um / bore_um - 1.0).abs() < 0.01)
        .expect("this bore is tried");
    let tight = found.points[0].rise_pa.expect("a rise");
    point.rise_pa.expect("a rise") - tight
}

/// Table of plausible numbers, trade.md 3.5 (common practice): liquid water
/// through 1 mm of a 10 µm bore under 1 atm less surface tension evaporates
/// to 2.4e-3 Pa·m³/s; the plateau is 23.4 mbar at 20 °C; a bore holds 1 atm
/// up to 2.87 µm.
#[test]
fn water_through_a_vial_wall_follows_the_table() {
    let (found, _) = of(&crate::worked_cases::liquid_vial(), 16);
    assert!((found.vapour_pressure_pa / 2339.0 - 1.0).abs() < 5e-3);
    assert!((found.opens_um / 2.87 - 1.0).abs() < 0.02, "{}", found.opens_um);
    for point in &found.points {
        assert_eq!(point.runs, point.bore_um > found.opens_um, "{point:?}");
    }
    // 2.4e-3 Pa·m³/s into 25 mL for nine tenths of 8 s, above the tight unit.
    let by_table = 2.4e-3 / 25.0e-6 * 0.9 * 8.0;
    let rise = rise_pa(&found, 10.0);
    assert!((rise / by_table - 1.0).abs() < 0.1, "{rise} {by_table}");
    let smallest = found.smallest_um.expect("found");
    assert!(smallest > found.opens_um && smallest < 10.0, "{smallest}");
}

/// Poiseuille: through a capillary the flow is inverse to the viscosity. A
/// tenth of the flow gives a tenth of the vapour, as long as it stays far
/// from the vapour pressure.
#[test]
fn ten_times_the_viscosity_gives_a_tenth_of_the_rise() {
    let thin = exact();
    let mut thick = thin.clone();
    let liquid = thick.profile.product.liquid.as_mut().expect("a liquid");
    liquid.viscosity_pa_s.as_mut().expect("stated").value *= 10.0;
    let (of_thin, _) = of(&thin, 16);
    let (of_thick, _) = of(&thick, 16);
    let ratio = rise_pa(&of_thick, 6.81) / rise_pa(&of_thin, 6.81);
    assert!((ratio / 0.1 - 1.0).abs() < 0.05, "{ratio}");
    assert!(of_thick.smallest_um > of_thin.smallest_um);
    assert_eq!(of_thick.opens_um, of_thin.opens_um);
}

/// Laplace: the bore that opens is proportional to the surface tension, so
/// that with that alone uncertain by a tenth its 90 % interval reaches 1.645
/// tenths to each side.
#[test]
fn the_interval_of_the_bore_that_opens_is_that_of_the_surface_tension() {
    let mut input = exact();
    input.profile.headspace.pressure.standard_uncertainty_si = Some(1e-9);
    let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
    let tension = liquid.surface_tension_n_per_m.as_mut().expect("stated");
    tension.standard_uncertainty_si = Some(0.1 * tension.value);
    let (found, _) = of(&input, 256);
    let (low, high) = found.spread.expect("draws").opens_um;
    for (end, expected) in [(low, 1.0 - 0.1645), (high, 1.0 + 0.1645)] {
        assert!((end / found.opens_um - expected).abs() < 0.012, "{low} {high}");
    }
}

/// Where surface tension decides, it is named first, and half of it halves
/// the bore.
#[test]
fn the_weightiest_unknown_is_the_one_that_was_made_so() {
    let mut input = exact();
    let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
    let viscosity = liquid.viscosity_pa_s.as_mut().expect("stated");
    viscosity.value *= 30.0;
    viscosity.standard_uncertainty_si = Some(0.3 * viscosity.value);
    let (found, _) = of(&input, 64);
    let spread = found.spread.expect("draws");
    assert_eq!(spread.unknowns[0].input, LiquidInput::Viscosity.word());
    let (low, high) = spread.smallest_um.expect("found");
    let smallest = found.smallest_um.expect("found");
    assert!(low < smallest && smallest < high, "{low} {smallest} {high}");
    assert_eq!(spread.share_with_window, 1.0);
}

/// A liquid-blocked leak needs a pressure well below the vapour pressure
/// (common practice).
#[test]
fn above_the_vapour_pressure_nothing_is_claimed() {
    let mut input = crate::worked_cases::liquid_vial();
    input.cycle.tiers[0].tier.evacuate_to = AbsolutePressure::from_pa(5000.0);
    let (found, notes) = of(&input, 16);
    assert!(found.chamber_pa > found.vapour_pressure_pa);
    assert!(found.smallest_um.is_none() && found.points.is_empty());
    assert_eq!(found.spread.expect("draws").share_with_window, 0.0);
    assert!(notes.iter().any(|note| note.text.contains("not claimed")));
    // Just below, it boils, but barely.
    input.cycle.tiers[0].tier.evacuate_to = AbsolutePressure::from_pa(1000.0);
    let (_, notes) = of(&input, 16);
    assert!(notes.iter().any(|note| note.code == "liquid-boils-barely"), "{notes:?}");
}

#[test]
fn a_wetted_outside_holds_nothing() {
    let mut input = exact();
    input.profile.product.liquid.as_mut().expect("a liquid").wets_outside = true;
    let (found, notes) = of(&input, 16);
    assert_eq!(found.opens_um, 0.0);
    assert!(found.points.iter().all(|point| point.runs));
    assert!(notes.iter().any(|note| note.text.contains("nothing holds it back")));
}

#[test]
fn what_is_not_stated_is_not_forecast_but_named() {
    let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
    let mut input = exact();
    let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
    liquid.viscosity_pa_s = None;
    liquid.contact_angle_degrees = None;
    let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
    assert!(found.liquid_side.is_none());
    let note = found.notes.iter().find(|note| note.code == "liquid-side-unknown");
    assert!(note.expect("named").text.ends_with("viscosity, contact angle"));
    input.profile.product.liquid = None;
    let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
    let note = found.notes.iter().find(|note| note.code == "liquid-side-unknown");
    assert!(note.expect("named").text.contains("vapour pressure, surface tension"));
    // A value without meaning is refused, and says so.
    input = exact();
    let liquid = input.profile.product.liquid.as_mut().expect("a liquid");
    liquid.density_kg_per_m3 = Some(Sourced::new(-1.0, Provenance::assumed("a slip")));
    assert!(forecast(&input, &settings, &|_, _| {}).is_err());
}

#[test]
fn a_dry_product_has_no_liquid_side() {
    let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
    let input = crate::worked_cases::lyophilised_vial();
    let found = forecast(&input, &settings, &|_, _| {}).expect("forecast");
    assert!(found.liquid_side.is_none());
    assert!(found.notes.iter().all(|note| !note.code.starts_with("liquid")));
}

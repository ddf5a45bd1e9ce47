//! The worked cases walk the whole path, and give what an expert would check
//! first.

// A test that cannot go on has failed.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use study::forecast::{Answer, ForecastSettings};
use study::plan::PlanSettings;
use study::{Case, CaseInput};

fn settings() -> ForecastSettings {
    ForecastSettings { seed: 5, n_draws: 24, n_sizes: 61 }
}

fn walk(input: CaseInput) -> Case {
    let mut case = Case::begin(input);
    let forecast = study::forecast(&case.input, &settings(), &|_, _| {}).unwrap();
    let method = study::design_method(&case.input, &forecast);
    let plan = study::plan_runs(&case.input, &forecast, &PlanSettings::default());
    case.runs = study::simulate_runs(&case.input, &method, &plan, 7, &|_, _| {}).unwrap();
    case.results = Some(study::evaluate(&case.input, &method, &case.runs));
    case.forecast = Some(forecast);
    case.method = Some(method);
    case.plan = Some(plan);
    case
}

#[test]
fn every_worked_case_reaches_a_result() {
    for input in study::worked_cases::all() {
        let case = walk(input);
        let id = &case.input.id;
        assert!(case.input.invented, "{id} must say that it is invented");
        let forecast = case.forecast.as_ref().unwrap();
        let smallest = forecast.window.smallest.unwrap_or_else(|| panic!("{id} has no window"));
        assert!(smallest.low_um <= smallest.um && smallest.um <= smallest.high_um);
        // Common practice: vacuum decay in small chambers sees single-digit µm.
        assert!((0.5..10.0).contains(&smallest.um), "{id}: {smallest:?}");
        let results = case.results.as_ref().unwrap();
        let limit = results.reject_limit.as_ref().unwrap();
        assert_eq!(limit.n, 60);
        let detection = results.detection.as_ref().unwrap();
        assert!(detection.n_units >= 64 + 8, "{id}: {}", detection.n_units);
        // A claim ends where tested sizes end, and it reaches the leak that matters.
        let claim = case.claim();
        assert!(claim.size_um.unwrap() < claim.tested_to_um.unwrap(), "{id}: {claim:?}");
        println!("{id}: {forecast:#?}", forecast = forecast.verdict);
        println!("{id}: window {:?} gap {:?}", forecast.window, forecast.blind_gap_um);
        println!("{id}: limit {:.2} forecast {:.2}", limit.limit_pa, forecast.rise_limit_pa);
        println!(
            "{id}: a90 {:?} a90/95 {:?} {}",
            detection.a90_um, detection.a90_95_um, detection.separation
        );
        println!("{id}: {:?}", case.claim());
        println!("{id}: {:?}", case.ladder().headline);
    }
}

#[test]
fn a_small_bubble_empties_before_the_measure_stage() {
    let forecast =
        study::forecast(&study::worked_cases::syringe(), &settings(), &|_, _| {}).unwrap();
    // trade arithmetic: tau = V / (198.7 m/s A), so 0.05 mL at 50 µm
    // flow-equivalent empties in 0.13 s, long before the measure stage.
    let (_, tau) = forecast.headspace.emptying.iter().find(|row| row.0 == 50.0).unwrap();
    assert!((tau / 0.128 - 1.0).abs() < 0.03, "time constant {tau}");
    let (from, to) = forecast.blind_gap_um.expect("the gap must be found");
    assert!(from < 50.0 && to > 50.0, "gap {from} to {to}");
    assert_eq!(forecast.verdict.answer, Answer::YesIf);
    // Ceiling p V_h / (V_h + V_c): 101325 * 0.05 / 6.05.
    assert!((forecast.headspace.ceiling_pa - 837.4).abs() < 1.0);
}

#[test]
fn the_same_seed_gives_the_same_digits_on_any_number_of_threads() {
    let input = study::worked_cases::lyophilised_vial();
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap();
    let run = || study::forecast(&input, &settings(), &|_, _| {}).unwrap();
    assert_eq!(one.install(run), two.install(run));
}

#[test]
fn a_planted_leak_between_days_is_noticed() {
    // Positive control: shift one day of an evaluated study and see the note.
    let mut case = walk(study::worked_cases::lyophilised_vial());
    for run in &mut case.runs {
        if run.day == 2
            && let Some(features) = &mut run.features
        {
            features.rise_pa += 10.0;
        }
    }
    let method = case.method.clone().unwrap();
    let results = study::evaluate(&case.input, &method, &case.runs);
    assert!(results.notes.iter().any(|note| note.code == "days-differ"), "{:?}", results.notes);
}

#[test]
fn larger_leaks_rise_more_until_the_headspace_empties() {
    let forecast =
        study::forecast(&study::worked_cases::liquid_vial(), &settings(), &|_, _| {}).unwrap();
    let rises: Vec<f64> = forecast
        .detection
        .iter()
        .take_while(|point| point.flow_equivalent_um < 10.0)
        .filter_map(|point| point.rise_pa)
        .collect();
    assert!(rises.windows(2).all(|pair| pair[1] >= pair[0] - 1e-6), "{rises:?}");
}

//! Rehearsals of a planned study: planted faults must show as failing criteria.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use study::forecast::{Forecast, ForecastSettings};
use study::plan::{Plan, PlanSettings, plan_runs};
use study::quantities::Probability;
use study::rehearsal::{Rehearsal, RehearsalSettings, rehearse};
use study::{CaseInput, worked_cases};

fn prepared(input: &CaseInput) -> (Forecast, Plan) {
    let settings = ForecastSettings { n_draws: 16, n_sizes: 31, ..ForecastSettings::default() };
    let forecast = study::forecast(input, &settings, &|_, _| {}).unwrap();
    let plan = plan_runs(input, &forecast, &PlanSettings::default());
    (forecast, plan)
}

fn rehearsed(input: &CaseInput) -> Rehearsal {
    rehearsed_so_often(input, 200)
}

fn rehearsed_so_often(input: &CaseInput, n: usize) -> Rehearsal {
    let (forecast, plan) = prepared(input);
    let settings = RehearsalSettings { seed: 3, n };
    rehearse(input, &forecast, &plan, &settings, &|_, _| {}).unwrap()
}

fn chance(rehearsal: &Rehearsal, code: &str) -> f64 {
    let chance = rehearsal.chances.iter().find(|chance| chance.criterion.code == code);
    chance.unwrap_or_else(|| panic!("no criterion {code}")).probability_met
}

#[test]
fn a_sound_case_has_a_good_chance_of_every_criterion() {
    let rehearsal = rehearsed(&worked_cases::liquid_vial());
    println!("{rehearsal:#?}");
    assert!(chance(&rehearsal, "large-leaks-found") > 0.9);
    assert!(chance(&rehearsal, "detection-bound") > 0.9);
    assert!(rehearsal.probability_all_met <= chance(&rehearsal, "detection-bound"));
    let [low, middle, high] = rehearsal.limit_pa.unwrap();
    assert!(low <= middle && middle <= high);
    // The adaptive study reaches the same bound and never uses more.
    let adaptive = rehearsal.adaptive.unwrap();
    assert!(adaptive.probability_met > 0.8, "{adaptive:?}");
    assert!(adaptive.mean_units <= adaptive.planned_units as f64, "{adaptive:?}");
    assert!(adaptive.mean_units >= 20.0, "{adaptive:?}");
}

/// Positive control: a leak that matters below what the rig can see must show
/// as a study that fails, not as a weak one.
#[test]
fn a_leak_below_the_window_fails_the_rehearsal() {
    let mut input = worked_cases::liquid_vial();
    input.profile.mall.as_mut().unwrap().stated =
        study::profile::LeakStatement::FlowEquivalentDiameter(study::quantities::Length::from_um(
            0.7,
        ));
    let rehearsal = rehearsed(&input);
    assert!(chance(&rehearsal, "detection-bound") < 0.05);
    let adaptive = rehearsal.adaptive.as_ref().unwrap();
    assert!(adaptive.probability_met < 0.05, "{adaptive:?}");
    assert!((adaptive.mean_units - adaptive.planned_units as f64).abs() < 2.0, "{adaptive:?}");
    assert!(rehearsal.notes.iter().any(|note| note.code == "study-may-fail"));
}

/// Positive control: lots that differ must show as a limit that holds less often,
/// and more lots as one that holds more often.
#[test]
fn few_lots_and_days_are_named_as_under_powered() {
    let input = worked_cases::liquid_vial();
    let settings = ForecastSettings { n_draws: 16, n_sizes: 31, ..ForecastSettings::default() };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).unwrap();
    let with = |days: u32, lots: u32| {
        let plan = plan_runs(
            &input,
            &forecast,
            &PlanSettings { days, lots, rigs: 2, operators: 2, ..PlanSettings::default() },
        );
        let settings = RehearsalSettings { seed: 3, n: 400 };
        rehearse(&input, &forecast, &plan, &settings, &|_, _| {}).unwrap()
    };
    let (few, many) = (with(2, 2), with(12, 12));
    println!("{} {} {:#?} {:#?}", few.limit_holds, many.limit_holds, few.parts, few.notes);
    assert!(few.limit_holds < many.limit_holds - 0.05, "{} {}", few.limit_holds, many.limit_holds);
    for part in ["days", "lots", "rigs"] {
        assert!(few.parts.iter().any(|one| one.part == part), "{part}");
    }
    assert!(few.notes.iter().any(|note| note.code == "limit-may-not-hold"), "{:?}", few.notes);
}

/// More units can only help where chance is the cause.
#[test]
fn half_the_units_do_not_raise_the_chance() {
    let rehearsal = rehearsed(&worked_cases::lyophilised_vial());
    let of = |words: &str| {
        let variant = rehearsal.variants.iter().find(|variant| variant.change == words).unwrap();
        variant.probability_all_met
    };
    let margin = 0.12;
    assert!(of("half the positive controls") <= of("twice the positive controls") + margin);
    assert!(of("half the negative controls") <= of("twice the negative controls") + margin);
}

#[test]
fn threads_do_not_change_a_digit() {
    let input = worked_cases::syringe();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| rehearsed_so_often(&input, 100))
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn too_few_rehearsals_are_refused() {
    let input = worked_cases::liquid_vial();
    let (forecast, plan) = prepared(&input);
    let settings = RehearsalSettings { seed: 1, n: 10 };
    assert!(rehearse(&input, &forecast, &plan, &settings, &|_, _| {}).is_err());
    let _ = Probability::new(0.5);
}

//! Hostile input: every public method answers with a number that is finite or
//! with a refusal, never with NaN and never with a panic.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used)]

use statistics::assumptions::{anderson_darling, dixon, grubbs, order, shapiro_wilk};
use statistics::autocorrelation as time;
use statistics::comparison::{bland_altman, equivalence_paired, passing_bablok};
use statistics::control_charts::{change_point, cusum, ewma, individuals};
use statistics::detection::{
    HitMiss, Link, Separation, Simulation, fit_hit_miss, fit_single_trials,
};
use statistics::interlaboratory;
use statistics::proportions::{clopper_pearson, jeffreys, wilson};
use statistics::regression::{
    detection_limit, errors_in_both, lack_of_fit, polynomial, straight_line,
};
use statistics::size_exponent::{SizeReading, size_exponent};
use statistics::summaries::{GroupSummary, groups_differ, pooled};
use statistics::tolerance_limits::{self as limits, nonparametric, random_lots, transformed};
use statistics::uncertainty::allan;
use statistics::variance_components::{nested, one_way};

/// Lists that have broken programs before.
fn lists() -> Vec<Vec<f64>> {
    let base: Vec<f64> = (0..12).map(|i| f64::from(i % 5) + 0.25 * f64::from(i)).collect();
    let with = |value: f64| {
        let mut list = base.clone();
        list[4] = value;
        list
    };
    let mut all = vec![
        vec![],
        vec![1.0],
        vec![1.0, 2.0],
        vec![3.0; 12],
        vec![0.0; 12],
        base.iter().map(|v| v * 1e308).collect(),
        base.iter().map(|v| v * 1e-308).collect(),
        base.iter().map(|v| 1e15 + v).collect(),
        vec![-1e308, 1e308, -1e308, 1e308, -1e308, 1e308, -1e308, 1e308, -1e308, 1e308],
        vec![0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
    ];
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308, -1e308, 5e-324, -0.0] {
        all.push(with(value));
    }
    all
}

/// Fails when the debug text of an answer holds NaN; refusals that quote the
/// NaN they were given are right to do so.
fn clean<T: std::fmt::Debug, E: std::fmt::Display>(name: &str, input: &str, answer: Result<T, E>) {
    match answer {
        Ok(value) => {
            let text = format!("{value:?}");
            assert!(!text.contains("NaN"), "{name} on {input}: {text}");
        }
        Err(refusal) => {
            let text = refusal.to_string();
            assert!(text.starts_with("cannot be said, because"), "{name}: {text}");
        }
    }
}

#[test]
fn lists_never_give_nan() {
    for list in lists() {
        let input = format!("{list:?}");
        let check = |name: &str, answer: Result<String, statistics::CannotSay>| {
            clean(name, &input, answer);
        };
        macro_rules! run {
            ($name:literal, $call:expr) => {
                check($name, $call.map(|value| format!("{value:?}")))
            };
        }
        let indexes: Vec<f64> = (0..list.len()).map(|i| i as f64).collect();
        let turned: Vec<f64> = list.iter().rev().copied().collect();
        run!("normal limit", limits::upper_limit_from_values(&list, 0.99, 0.95));
        run!("nonparametric limit", nonparametric::upper_limit(&list, 0.5, 0.9));
        run!("lognormal limit", transformed::lognormal_upper_limit(&list, 0.99, 0.95));
        run!("power limit", transformed::box_cox_upper_limit(&list, 0.99, 0.95));
        let halves = vec![list.clone(), turned.clone()];
        run!("lots", random_lots::upper_limit(&halves, 0.99, 0.95, random_lots::Pivot::Graded));
        run!("Shapiro-Wilk", shapiro_wilk::shapiro_wilk(&list));
        run!("Anderson-Darling", anderson_darling::anderson_darling(&list));
        run!("Grubbs", grubbs::grubbs(&list, 0.05));
        run!("several outliers", grubbs::several_outliers(&list, 2, 0.05));
        run!("Dixon", dixon::ratio(&list));
        run!("von Neumann", order::von_neumann(&list));
        run!("runs", order::runs_about_median(&list));
        run!("trend", order::mann_kendall(&list));
        run!("lag one", time::lag_one(&list));
        run!("slope", time::slope_with_autocorrelation(&indexes, &list));
        run!("slope in odd times", time::slope_with_autocorrelation(&list, &indexes));
        run!("noise", time::noise_from_differences(&list));
        run!("Allan", time::overlapping_allan_deviation(&list, 2));
        run!("modified Allan", allan::deviation(&list, 2, allan::Kind::Modified));
        run!("total Allan", allan::deviation(&list, 3, allan::Kind::Total));
        run!("line", straight_line(&indexes, &list));
        run!("line upright", straight_line(&list, &indexes));
        if let Ok(line) = straight_line(&indexes, &list) {
            run!("inverse", line.inverse(1.0, 1, 0.95));
            run!("inverse far", line.inverse(1e300, 1, 0.95));
            run!("detection limit", detection_limit(&line, 1, 0.05, 0.05));
        }
        run!("parabola", polynomial(&list, &indexes, 2));
        run!("lack of fit", lack_of_fit(&list, &indexes, 1));
        run!("Deming", errors_in_both::deming(&list, &turned, 1.0));
        run!("agreement", bland_altman(&list, &turned, 2.0, 0.95));
        run!("equivalence", equivalence_paired(&list, &turned, 1.0, 0.05));
        run!("ranks", passing_bablok(&list, &turned, 0.95));
        run!("individuals", individuals::individuals(&list));
        run!("EWMA", ewma::ewma(&list, 0.0, 1.0, 0.2, 3.0));
        run!("CUSUM", cusum::cusum(&list, 0.0, 0.5, 4.0));
        run!("change point", change_point::change_point(&list, 99, 1));
        run!("one-way", one_way(&halves));
        run!("nested", nested(&[halves.clone(), halves.clone()]));
        run!(
            "interlaboratory",
            interlaboratory::from_values(&[
                ("a".to_owned(), list.clone()),
                ("b".to_owned(), turned.clone()),
            ])
        );
        let trials: Vec<(f64, bool)> =
            list.iter().enumerate().map(|(i, x)| (*x, i % 3 == 0)).collect();
        run!("single trials", fit_single_trials(&trials, 0.9, 0.95));
    }
}

#[test]
fn hits_and_misses_never_give_nan() {
    let sizes = [f64::NAN, f64::INFINITY, 0.0, 5e-324, 1.0, 2.0, 1.7e308];
    let mut separated = [0_u32; 3];
    for a in sizes {
        for b in sizes {
            for (first, second) in [(0, 4), (1, 3), (2, 2), (4, 0), (4, 4), (0, 0)] {
                let data = [
                    HitMiss { size: a, hits: first, of: 4 },
                    HitMiss { size: b, hits: second, of: 4 },
                    HitMiss { size: 1.5, hits: second, of: 4 },
                ];
                for link in [Link::Logit, Link::Probit, Link::Cloglog] {
                    for log in [true, false] {
                        let answer = fit_hit_miss(&data, link, log, 0.95);
                        if let Ok(fit) = &answer {
                            let place = match fit.separation {
                                Separation::None => 0,
                                Separation::Quasi => 1,
                                Separation::Complete => 2,
                            };
                            separated[place] += 1;
                            assert!(fit.probability(1.5).is_none_or(f64::is_finite));
                            assert!(fit.lower_bound(1.5).is_none_or(f64::is_finite));
                        }
                        clean("hit/miss", &format!("{a} {b} {first} {second}"), answer);
                    }
                }
            }
        }
    }
    // Each kind must have been met, or the test has no teeth.
    assert!(separated.iter().all(|count| *count > 0), "{separated:?}");
}

#[test]
fn numbers_never_give_nan() {
    let numbers = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        -1.0,
        0.0,
        5e-324,
        0.5,
        1.0 - 1e-16,
        1.0,
        2.0,
        1e308,
    ];
    for a in numbers {
        for b in numbers {
            for n in [0, 1, 2, 10, 1_000_000] {
                let input = format!("{a} {b} {n}");
                clean("factor", &input, limits::one_sided_normal_factor(n, a, b));
                clean(
                    "two-sided factor",
                    &input,
                    limits::two_sided_normal_factor(n.min(1000), a, b),
                );
                clean(
                    "summary limit",
                    &input,
                    limits::upper_limit_from_summary(a, b, n, 0.99, 0.95),
                );
                clean("share", &input, limits::two_errors::share_above(a, b, n, 1.0, 0.95));
                clean("rule", &input, limits::two_errors::simple_rule(n, a, b));
            }
            let group =
                |mean: f64| GroupSummary { label: "g".into(), mean, standard_deviation: b, n: 5 };
            let groups = [group(a), group(1.0), group(2.0)];
            let input = format!("{a} {b}");
            clean("pooled", &input, pooled(&groups));
            clean("groups differ", &input, groups_differ(&groups));
            clean("precision", &input, interlaboratory::from_summaries(&groups, Some(3)));
            let reading = |size: f64, mean: f64| SizeReading {
                size,
                mean,
                standard_deviation: b,
                n: 5,
                censored: false,
            };
            clean(
                "exponent",
                &input,
                size_exponent(&[reading(1.0, a), reading(2.0, 5.0)], None, 0.95),
            );
            clean(
                "exponent",
                &input,
                size_exponent(&[reading(a, 1.0), reading(2.0, 5.0)], None, 0.95),
            );
        }
        for (hits, of) in [(0, 0), (0, 1), (1, 1), (2, 1), (0, u64::MAX), (u64::MAX, u64::MAX)] {
            let input = format!("{hits} {of} {a}");
            clean("exact", &input, clopper_pearson(hits, of, a));
            clean("score", &input, wilson(hits, of, a));
            clean("Jeffreys", &input, jeffreys(hits, of, a));
        }
    }
}

#[test]
fn a_separated_set_has_a_bound_but_no_curve() {
    let data = [
        HitMiss { size: 1.0, hits: 0, of: 8 },
        HitMiss { size: 2.0, hits: 0, of: 8 },
        HitMiss { size: 4.0, hits: 8, of: 8 },
        HitMiss { size: 8.0, hits: 8, of: 8 },
    ];
    let fit = fit_hit_miss(&data, Link::Logit, true, 0.95).unwrap();
    assert!(fit.slope.is_none());
    let penalised = fit.penalised.as_ref().unwrap();
    assert!(penalised.a90.unwrap() > 2.0 && penalised.method.contains("no maximum-likelihood"));
    let simulation = Simulation { samples: 400, seed: 1 };
    let bound = fit.upper_bound_small_sample(0.9, simulation).unwrap();
    assert!(bound > 2.0 && bound < 16.0, "{bound}");
    // The same seed gives the same digits.
    assert_eq!(fit.upper_bound_small_sample(0.9, simulation), Some(bound));
}

//! The whole public face of the library against a table of hostile samples:
//! every answer is finite numbers or a refusal, never NaN, never an infinite
//! number that is not a documented open bound, never a panic.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod hostile;

use hostile::{Table, not_finite, samples};
use statistics::adaptive_study::{
    Rule, TrueCurve, next_size, operating_characteristics, optimal_height,
};
use statistics::assumptions::{self, anderson_darling, dixon, grubbs, order, shapiro_wilk};
use statistics::autocorrelation as time;
use statistics::comparison::power_two_groups::{
    TwoGroups, two_group_equivalence_power, two_group_power, two_group_sample_size,
};
use statistics::comparison::{
    bland_altman, equivalence_paired, equivalence_two_groups, passing_bablok, power,
};
use statistics::control_charts::{
    capability, change_point, constants, cusum, ewma, individuals, means, zones,
};
use statistics::detection::logistic::{Estimation, LogisticRow, logistic};
use statistics::detection::posterior::{Grid, NormalPrior, logistic_posterior};
use statistics::detection::signal_response::{
    Signal, Spread, censored_line, kinds_agree, signal_response,
};
use statistics::detection::{
    Floor, HitMiss, Link, Simulation, bootstrap_place, fit_hit_miss, fit_single_trials,
    fit_with_false_calls,
};
use statistics::experiments::success::{Criterion, over_region, probability_of_success};
use statistics::experiments::{aliasing, designs, effects, response_surface};
use statistics::interlaboratory;
use statistics::proportions::difference::newcombe;
use statistics::proportions::{acceptance, replicates, sample_size, single_plans};
use statistics::proportions::{clopper_pearson, jeffreys, wilson};
use statistics::regression::errors_in_both::{deming, york};
use statistics::regression::{
    detection_limit, lack_of_fit, least_squares, polynomial, quantitation, straight_line,
    weighted_line,
};
use statistics::size_exponent::{SizeReading, size_exponent};
use statistics::summaries::{GroupSummary, groups_differ, pooled};
use statistics::tolerance_limits::{
    self as limits, nonparametric, random_lots, transformed, two_errors,
};
use statistics::uncertainty::{
    Distribution, Input, allan, correlation, monte_carlo, monte_carlo_correlated, propagate,
};
use statistics::variance_components::intervals::{
    Term, modified_large_sample, modified_large_sample_difference, satterthwaite, satterthwaite_df,
};
use statistics::variance_components::{
    Factor, agreement, crossed, gauge, nested, nested_levels, one_way, random_factors,
};

#[test]
fn lists_of_readings() {
    let mut table = Table::default();
    for (input, list) in samples() {
        let (t, input) = (&mut table, input.as_str());
        t.ask("upper_limit_from_values", input, || {
            limits::upper_limit_from_values(&list, 0.99, 0.95)
        });
        t.ask("only_rounding", input, || {
            Ok::<_, statistics::CannotSay>(statistics::only_rounding(&list))
        });
        t.ask("in_range", input, || {
            let all = list.iter().all(|value| statistics::in_range(*value));
            Ok::<_, statistics::CannotSay>(all)
        });
        t.ask("nonparametric", input, || nonparametric::upper_limit(&list, 0.5, 0.9));
        t.ask("lognormal_upper_limit", input, || {
            transformed::lognormal_upper_limit(&list, 0.99, 0.95)
        });
        t.ask("box_cox_power", input, || transformed::box_cox_power(&list));
        t.ask("box_cox_upper_limit", input, || transformed::box_cox_upper_limit(&list, 0.99, 0.95));
        t.ask("normality_on_both_scales", input, || transformed::normality_on_both_scales(&list));
        t.ask("shapiro_wilk", input, || shapiro_wilk::shapiro_wilk(&list));
        t.ask("anderson_darling", input, || anderson_darling::anderson_darling(&list));
        t.ask("grubbs", input, || grubbs::grubbs(&list, 0.05));
        t.ask("several_outliers", input, || grubbs::several_outliers(&list, 3, 0.05));
        t.ask("ratio", input, || dixon::ratio(&list));
        t.ask("von_neumann", input, || order::von_neumann(&list));
        t.ask("runs_about_median", input, || order::runs_about_median(&list));
        t.ask("mann_kendall", input, || order::mann_kendall(&list));
        t.plain("normal", input, || assumptions::normal("x", &list));
        t.plain("independent", input, || assumptions::independent("x", &list));
        t.plain("no_trend", input, || assumptions::no_trend("x", &list));
        t.ask("lag_one", input, || time::lag_one(&list));
        t.ask("noise_from_differences", input, || time::noise_from_differences(&list));
        for span in [0, 1, 2, usize::MAX] {
            t.ask("overlapping_allan_deviation", input, || {
                time::overlapping_allan_deviation(&list, span)
            });
            for kind in [
                allan::Kind::Plain,
                allan::Kind::Overlapping,
                allan::Kind::Modified,
                allan::Kind::Hadamard,
                allan::Kind::Total,
            ] {
                t.ask("deviation", input, || allan::deviation(&list, span, kind));
            }
        }
        t.ask("best_span", input, || allan::best_span(&list));
        if let Some(chart) = t.ask("individuals", input, || individuals::individuals(&list)) {
            t.ask("signals", input, || chart.signals(&list));
        }
        for sigma in [0.0, 1.0, 5e-324, 1e308, f64::NAN] {
            t.ask("ewma", input, || ewma::ewma(&list, 1.0, sigma, 0.2, 3.0));
            t.ask("cusum", input, || cusum::cusum(&list, 1.0, sigma, 4.0));
            t.ask("zones", input, || {
                let rules = [
                    zones::Rule::BeyondThree,
                    zones::Rule::TwoOfThreeBeyondTwo,
                    zones::Rule::FourOfFiveBeyondOne,
                    zones::Rule::EightOnOneSide,
                    zones::Rule::SixRisingOrFalling,
                ];
                zones::signals(&list, 1.0, sigma, &rules)
            });
        }
        t.ask("change_point", input, || change_point::change_point(&list, 99, 1));
        let subgroups: Vec<Vec<f64>> = list.chunks(3).map(<[f64]>::to_vec).collect();
        for spread in [means::Spread::Range, means::Spread::StandardDeviation] {
            t.ask("means", input, || means::means(&subgroups, spread));
        }
        for flags in 0..4_u8 {
            let limit = |bit: u8, value: f64| (flags & bit > 0).then_some(value);
            t.ask("capability", input, || {
                let first = list.first().copied().unwrap_or(0.0);
                capability::capability(first, 1.0, 10, limit(1, -5.0), limit(2, first), 0.95)
            });
        }
    }
    table.finish(500, 500);
}

#[test]
fn pairs_of_lists() {
    let mut table = Table::default();
    let all = samples();
    let partners = ["ordinary", "all tied", "huge"];
    for (left, x) in &all {
        for (right, y) in &all {
            if !partners.contains(&left.as_str()) && !partners.contains(&right.as_str()) {
                continue;
            }
            let input = format!("{left} / {right}");
            let (t, input) = (&mut table, input.as_str());
            if let Some(found) = t
                .ask("slope_with_autocorrelation", input, || time::slope_with_autocorrelation(x, y))
            {
                t.ask("interval of a slope", input, || found.interval(0.95));
                t.ask("interval of a slope", input, || found.interval(1.0));
            }
            if let Some(line) = t.ask("straight_line", input, || straight_line(x, y)) {
                t.plain("slope_p_value", input, || line.slope_p_value());
                t.ask("slope_interval", input, || line.slope_interval(0.95));
                t.ask("reciprocal_slope", input, || quantitation::reciprocal_slope(&line, 0.95));
                t.ask("conventional_limits", input, || quantitation::conventional_limits(&line));
                for at in [0.0, 1e308, -1e-308, f64::NAN] {
                    t.ask("mean_at", input, || line.mean_at(at, 0.95));
                    t.ask("reading_at", input, || line.reading_at(at, 1, 0.95));
                    t.ask("inverse", input, || line.inverse(at, 1, 0.95));
                }
                t.ask("no readings", input, || line.inverse(1.0, 0, 0.95));
                t.ask("detection_limit", input, || detection_limit(&line, 1, 0.05, 0.05));
                t.ask("doubled_critical_value", input, || {
                    quantitation::doubled_critical_value(&line, 1, 0.05)
                });
                t.ask("quantitation_limit", input, || {
                    quantitation::quantitation_limit(&line, 1, 3.0, 0.05)
                });
            }
            for weights in [y, &vec![1.0; y.len()], &vec![1e308; y.len()], &vec![5e-324; y.len()]] {
                if let Some(line) = t.ask("weighted_line", input, || weighted_line(x, y, weights)) {
                    t.ask("weighted inverse", input, || line.inverse(2.0, 1.0, 0.95));
                    t.ask("weighted inverse", input, || line.inverse(1e308, 5e-324, 0.95));
                }
                t.ask("york", input, || york(x, y, weights, weights));
                t.ask("least_squares", input, || {
                    least_squares(&[vec![1.0; x.len()], x.clone()], y, Some(weights))
                });
            }
            t.ask("least_squares", input, || least_squares(std::slice::from_ref(x), y, None));
            t.ask("polynomial", input, || polynomial(x, y, 2));
            t.ask("lack_of_fit", input, || lack_of_fit(x, y, 1));
            for ratio in [1.0, 1e-300, 1e300] {
                t.ask("deming", input, || deming(x, y, ratio));
            }
            t.ask("bland_altman", input, || bland_altman(x, y, 2.0, 0.95));
            t.ask("equivalence_paired", input, || equivalence_paired(x, y, 1.0, 0.05));
            t.ask("passing_bablok", input, || passing_bablok(x, y, 0.95));
            let groups = vec![x.clone(), y.clone()];
            if let Some(parts) = t.ask("one_way", input, || one_way(&groups)) {
                t.plain("total", input, || parts.total());
                t.ask("total_df", input, || parts.total_df());
                t.ask("total_interval", input, || parts.total_interval(0.95));
                t.ask("total_interval_satterthwaite", input, || {
                    parts.total_interval_satterthwaite(0.95)
                });
                t.ask("intraclass", input, || parts.intraclass(0.95));
            }
            let deep = vec![groups.clone(), vec![y.clone(), x.clone()]];
            if let Some(parts) = t.ask("nested", input, || nested(&deep)) {
                t.ask("nested total", input, || parts.total(0.95));
            }
            t.ask("restricted_likelihood", input, || {
                statistics::variance_components::restricted_likelihood::restricted_likelihood(&deep)
            });
            if let Some(parts) = t.ask("crossed", input, || crossed(&deep)) {
                for pool in [true, false] {
                    t.ask("from_crossed", input, || gauge::from_crossed(&parts, pool));
                }
                t.ask("gauge_variance", input, || gauge::gauge_variance(&parts, 0.95));
                t.ask("gauge_variance_pooled", input, || {
                    gauge::gauge_variance_pooled(&parts, 0.95)
                });
            }
            t.ask("average_and_range", input, || gauge::average_and_range(&deep));
            t.ask("from_values", input, || {
                interlaboratory::from_values(&[
                    ("a".to_owned(), x.clone()),
                    ("b".to_owned(), y.clone()),
                    ("c".to_owned(), x.clone()),
                ])
            });
            let design: Vec<Vec<f64>> = x.iter().map(|v| vec![*v, 1.0 - *v]).collect();
            t.ask("effects", input, || effects(&design, y, 2));
            let surface = t.ask("response_surface", input, || {
                let points: Vec<Vec<f64>> = x.iter().map(|v| vec![*v]).collect();
                response_surface(&points, y, None)
            });
            if let Some(surface) = surface {
                t.ask("value", input, || surface.value(&[1e308]));
                let criteria = [Criterion { surface: &surface, lower: Some(1.0), upper: None }];
                for at in [0.0, 1e200, f64::NAN] {
                    t.ask("probability_of_success", input, || {
                        probability_of_success(&criteria, &[at])
                    })
                    .map(|found| found.largest_correlation());
                    // The same surface twice: results that go together wholly.
                    let twice = [criteria.clone(), criteria.clone()].concat();
                    t.ask("probability_of_success of two", input, || {
                        probability_of_success(&twice, &[at])
                    });
                }
                t.ask("over_region", input, || over_region(&criteria, &[(-1.0, 1e300)], 3));
            }
            let signals: Vec<Signal> = y
                .iter()
                .enumerate()
                .map(|(i, v)| match i % 5 {
                    1 => Signal::Below(*v),
                    3 => Signal::Above(*v),
                    _ => Signal::Read(*v),
                })
                .collect();
            let columns = [vec![1.0; x.len()], x.clone()];
            if let Some(line) =
                t.ask("censored_line", input, || censored_line(&columns, &signals, None))
            {
                for threshold in [1.0, 1e308, f64::NAN] {
                    t.ask("place_detected", input, || line.place_detected(threshold, 0.9, 0.95));
                    t.plain("probability_above", input, || {
                        line.probability_above(&[1.0, 2.0], threshold)
                    });
                }
            }
            let units: Vec<usize> = (0..x.len()).map(|i| i / 2).collect();
            // Slow as well.
            let few = left == "ordinary" || right == "ordinary";
            for spread in [Spread::Constant, Spread::PowerOfMean, Spread::LogLinearInSize] {
                for units in [None, Some(units.as_slice())].into_iter().filter(|_| few) {
                    let Some(line) = t.ask("signal_response", input, || {
                        signal_response(x, &signals, units, spread)
                    }) else {
                        continue;
                    };
                    for threshold in [1.0, 1e308] {
                        t.ask("place_detected of units", input, || {
                            line.place_detected(threshold, 0.9, 0.95)
                        });
                        t.ask("bounded_by", input, || {
                            line.bounded_by(&[0.0, threshold], threshold, 0.9, 0.95)
                        });
                        t.plain("deviation_at", input, || line.deviation_at(threshold));
                        t.plain("probability_above of units", input, || {
                            line.probability_above(threshold, 1.0)
                        });
                    }
                }
            }
            let judged: Vec<bool> =
                signals.iter().map(|signal| !matches!(signal, Signal::Read(_))).collect();
            if few {
                t.ask("kinds_agree", input, || kinds_agree(x, &signals, None, &judged));
                t.ask("kinds_agree of units", input, || {
                    kinds_agree(x, &signals, Some(&units), &judged)
                });
            }
            let thirds: Vec<usize> = (0..x.len()).map(|i| i % 3).collect();
            let factors = [
                Factor { name: "a", levels: &units[..y.len().min(units.len())] },
                Factor { name: "b", levels: &thirds },
            ];
            t.ask("random_factors", input, || random_factors(y, &factors, 0.95));
            t.ask("nested_levels", input, || nested_levels(y, &factors[1..], 0.95));
        }
    }
    table.finish(1500, 1500);
}

/// By themselves, beside the other tables: the graded limit lays a quadrature
/// of half a second for each answer, so that it is asked where the full pivot
/// refuses and at every fifth sample.
#[test]
fn lots_at_random() {
    let mut table = Table::default();
    let all = samples();
    let (_, ordinary) = all.iter().find(|(name, _)| name == "ordinary").unwrap();
    for (number, (input, list)) in all.iter().enumerate() {
        let groups = vec![list.clone(), ordinary.clone()];
        let mut ask = |pivot| {
            let limit = || random_lots::upper_limit(&groups, 0.99, 0.95, pivot);
            table.ask("random_lots", input, limit).is_some()
        };
        let answered = ask(random_lots::Pivot::Full);
        if !answered || number % 5 == 0 {
            ask(random_lots::Pivot::Graded);
        }
        table.ask("upper_limit_with_known_ratio", input, || {
            random_lots::upper_limit_with_known_ratio(&groups, 0.5, 0.99, 0.95)
        });
    }
    table.finish(20, 20);
}

#[test]
fn hits_and_misses() {
    let mut table = Table::default();
    // It depends on the link alone, and is no matter of samples.
    for link in [Link::Logit, Link::Probit, Link::Cloglog] {
        table.plain("optimal_height", link.word(), || optimal_height(link));
    }
    let patterns: [fn(usize) -> bool; 5] =
        [|_| true, |_| false, |i| i % 2 == 0, |i| i > 5, |i| i % 3 == 0];
    for (input, list) in samples() {
        for (number, hit) in patterns.iter().enumerate() {
            let input = format!("{input}, pattern {number}");
            let (t, input) = (&mut table, input.as_str());
            let trials: Vec<(f64, bool)> =
                list.iter().enumerate().map(|(i, x)| (*x, hit(i))).collect();
            t.ask("fit_single_trials", input, || fit_single_trials(&trials, 0.9, 0.95));
            if let Some(resampled) =
                t.ask("bootstrap_place", input, || bootstrap_place(&trials, 0.9, 50, 1))
            {
                t.plain("quantile", input, || resampled.quantile(0.95));
            }
            let data: Vec<HitMiss> = trials
                .iter()
                .map(|(size, hit)| HitMiss { size: *size, hits: u64::from(*hit), of: 1 })
                .collect();
            for link in [Link::Logit, Link::Probit, Link::Cloglog] {
                for log in [true, false] {
                    // Slow, and the link matters little here.
                    let floors = [Floor::Estimated, Floor::Fixed(0.02)];
                    for floor in floors.into_iter().filter(|_| link == Link::Probit && log) {
                        let fit = t.ask("fit_with_false_calls", input, || {
                            fit_with_false_calls(&data, link, log, floor, 0.95)
                        });
                        if let Some(fit) = fit {
                            t.plain("probability above a floor", input, || fit.probability(1e308));
                            let simulation = Simulation { samples: 20, seed: 1 };
                            t.plain("small-sample bound above a floor", input, || {
                                fit.upper_bound_small_sample(0.9, simulation)
                            });
                            t.plain("small-sample interval of a floor", input, || {
                                fit.floor_interval_small_sample(simulation)
                            });
                        }
                    }
                    let fit = t.ask("fit_hit_miss", input, || fit_hit_miss(&data, link, log, 0.95));
                    if let Some(fit) = fit {
                        for at in [2.0, -1.0, 1e308, f64::NAN] {
                            t.plain("probability", input, || fit.probability(at));
                            t.plain("lower_bound", input, || fit.lower_bound(at));
                        }
                        for p in [0.5, 0.9, 1.0 - 1e-16, 0.0, f64::NAN] {
                            t.plain("size_at", input, || fit.size_at(p));
                            t.plain("upper_bound", input, || fit.upper_bound(p));
                            t.plain("upper_bound_wald", input, || fit.upper_bound_wald(p));
                        }
                        if link == Link::Logit {
                            let simulation = Simulation { samples: 20, seed: 1 };
                            t.plain("upper_bound_small_sample", input, || {
                                fit.upper_bound_small_sample(0.9, simulation)
                            });
                        }
                    }
                }
                t.ask("next_size", input, || next_size(&data, &[0.5, 1.0, 2.0], link, 0.9));
                t.ask("next_size", input, || next_size(&[], &list, link, 0.9));
            }
            let rows: Vec<LogisticRow> = trials
                .iter()
                .map(|(x, hit)| LogisticRow {
                    hits: u64::from(*hit),
                    of: 1,
                    columns: vec![1.0, *x],
                })
                .collect();
            for way in [Estimation::MaximumLikelihood, Estimation::Firth] {
                t.ask("logistic", input, || logistic(&rows, way));
            }
            let counted: Vec<(f64, u64, u64)> =
                trials.iter().map(|(x, hit)| (*x, u64::from(*hit), 1)).collect();
            let grid = Grid {
                intercept: (-5.0, 5.0),
                intercept_points: 20,
                slope: (-5.0, 5.0),
                slope_points: 20,
            };
            let prior = NormalPrior {
                intercept_mean: 0.0,
                intercept_sd: 2.0,
                slope_mean: 1.0,
                slope_sd: 2.0,
                correlation: 0.0,
            };
            for prior in [None, Some(prior)] {
                let posterior = t
                    .ask("logistic_posterior", input, || logistic_posterior(&counted, prior, grid));
                if let Some(posterior) = posterior {
                    t.plain("place_quantile", input, || posterior.place_quantile(0.9, 0.95));
                }
            }
        }
    }
    table.finish(1500, 500);
}

/// Numbers that have broken programs before.
const NUMBERS: [f64; 15] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    -1.0,
    0.0,
    5e-324,
    1e-12,
    0.5,
    0.95,
    1.0 - 1e-16,
    1.0,
    2.0,
    1e9,
    1e308,
    -1e308,
];

#[test]
fn summaries_and_single_numbers() {
    let mut table = Table::default();
    for a in NUMBERS {
        for b in NUMBERS {
            let input = format!("{a:e} and {b:e}");
            let (t, input) = (&mut table, input.as_str());
            for n in [0, 1, 2, 10] {
                t.ask("one_sided_normal_factor", input, || {
                    limits::one_sided_normal_factor(n, a, b)
                });
                t.ask("one_sided_normal_factor_excluding", input, || {
                    limits::one_sided_normal_factor_excluding(n, a, b)
                });
                t.ask("two_sided_normal_factor", input, || {
                    limits::two_sided_normal_factor(n, a, b)
                });
                t.ask("howe_factor", input, || limits::howe_factor(n, a, b));
                t.ask("upper_limit_from_summary", input, || {
                    limits::upper_limit_from_summary(a, b, n, 0.99, 0.95)
                });
                t.ask("share_above", input, || two_errors::share_above(a, b, n, 1.0, 0.95));
                t.ask("simple_rule", input, || two_errors::simple_rule(n, a, b));
                // A double integral: two sizes tell what there is to tell.
                if n < 3 {
                    let plan = TwoGroups { units: (n, 3), standard_deviations: (b, 1.0) };
                    t.ask("two_group_power", input, || two_group_power(&plan, a, 0.05));
                    t.ask("two_group_equivalence_power", input, || {
                        two_group_equivalence_power(&plan, a, 1.0, 0.05)
                    });
                }
                t.ask("one_sample_power", input, || power::one_sample_power(n, a, b, 0.05));
                t.ask("equivalence_power", input, || power::equivalence_power(n, a, b, 1.0, 0.05));
                let group =
                    |mean: f64| GroupSummary { label: "g".into(), mean, standard_deviation: b, n };
                let groups = [group(a), group(1.0), group(2.0)];
                t.ask("pooled", input, || pooled(&groups));
                t.ask("groups_differ", input, || groups_differ(&groups));
                t.ask("from_summaries", input, || {
                    interlaboratory::from_summaries(&groups, Some(n.min(5)))
                });
                t.ask("equivalence_two_groups", input, || {
                    equivalence_two_groups(&group(a), &group(1.0), 1.0, 0.05)
                });
                let population =
                    |mean: f64| two_errors::Population { mean, standard_deviation: b, n };
                t.ask("judge_limit", input, || {
                    two_errors::judge_limit(1.5, population(a), population(3.0), 0.95)
                });
                t.ask("balanced_limit", input, || {
                    two_errors::balanced_limit(population(a), population(3.0), 0.95)
                });
                t.ask("capability", input, || {
                    capability::capability(a, b, n, Some(-1.0), Some(2.0), 0.95)
                });
            }
            t.ask("two_group_sample_size", input, || {
                two_group_sample_size((b, 1.0), a, 2.0, None, 0.05, 0.5)
            });
            t.ask("equivalence_sample_size", input, || {
                power::equivalence_sample_size(a, b, 1.0, 0.05, 0.9)
            });
            t.ask("guarded_limit", input, || two_errors::guarded_limit(a, b, 0.05));
            t.ask("success_run_sample_size", input, || sample_size::success_run_sample_size(a, b));
            t.ask("demonstration_sample_size", input, || {
                sample_size::demonstration_sample_size(a, b, 2)
            });
            t.ask("sample_size_for_rank", input, || nonparametric::sample_size_for_rank(2, a, b));
            t.ask("two_sided_sample_size", input, || nonparametric::two_sided_sample_size(a, b));
            t.plain("nonparametric_sample_size", input, || {
                nonparametric::nonparametric_sample_size(a, b)
            });
            for ratio in [1.0, a] {
                t.ask("plan", input, || {
                    random_lots::plan(3, 5, ratio, a, b, random_lots::Pivot::Full)
                });
            }
            let reading = |size: f64, mean: f64| SizeReading {
                size,
                mean,
                standard_deviation: b,
                n: 5,
                censored: false,
            };
            t.ask("size_exponent", input, || {
                size_exponent(&[reading(1.0, a), reading(2.0, 5.0)], None, 0.95)
            });
            t.ask("size_exponent", input, || {
                size_exponent(&[reading(a, 1.0), reading(2.0, 5.0)], Some((b, a, 5)), 0.95)
            });
            let terms = [
                Term { coefficient: a, mean_square: b, degrees_of_freedom: 3.0 },
                Term { coefficient: 1.0, mean_square: 2.0, degrees_of_freedom: b },
            ];
            t.ask("satterthwaite_df", input, || satterthwaite_df(&terms));
            t.ask("satterthwaite", input, || satterthwaite(&terms, 0.95));
            t.ask("modified_large_sample", input, || modified_large_sample(&terms, 0.95));
            t.ask("modified_large_sample_difference", input, || {
                modified_large_sample_difference(terms[0], terms[1], 0.95)
            });
            t.ask("cusum run length", input, || cusum::average_run_length(a, b, 1.0));
            t.ask("ewma run length", input, || ewma::average_run_length(a, b, 1.0));
            let inputs = [
                Input { name: "x".into(), value: a, uncertainty: b, degrees_of_freedom: 5.0 },
                Input { name: "y".into(), value: 1.0, uncertainty: 0.1, degrees_of_freedom: b },
            ];
            if let Some(budget) =
                t.ask("propagate", input, || propagate(|v| v[0] * v[1], &inputs, None))
            {
                t.ask("expanded", input, || budget.expanded(0.95));
            }
            t.ask("shape", input, || {
                correlation::shape(&[vec![1.0, a], vec![a, 1.0]], &["a", "b"])
            });
            let models: [fn(&[f64]) -> f64; 3] = [|v| v[0], |v| 1.0 / v[0], |_| f64::NAN];
            for (number, model) in models.into_iter().enumerate() {
                for kind in [
                    Distribution::Normal(a, b),
                    Distribution::Rectangular(a, b),
                    Distribution::Triangular(a, b),
                    Distribution::StudentT(a, b, 3.0),
                    Distribution::StudentT(0.0, 1.0, b),
                ] {
                    let drawn =
                        t.ask("monte_carlo", input, || monte_carlo(model, &[kind], 0.95, 200, 1));
                    let matrix = [vec![1.0, 0.5], vec![0.5, 1.0]];
                    if number == 0 {
                        t.ask("of_scores", input, || {
                            correlation::of_scores(("a", kind), ("b", kind), 0.5)
                        });
                    }
                    let both = [kind, Distribution::Normal(0.0, 1.0)];
                    t.ask("monte_carlo_correlated", input, || {
                        monte_carlo_correlated(model, &both, &["a", "b"], &matrix, 0.9, 1000, 1)
                    });
                    if let Some(drawn) = drawn {
                        t.plain("validates", input, || drawn.validates(a, b, 0.1));
                    }
                }
            }
            t.ask("operating_characteristics", input, || {
                let rule = Rule {
                    available: vec![0.5, 1.0, a],
                    link: Link::Logit,
                    probability: 0.9,
                    confidence: 0.95,
                    critical_size: b,
                    fewest_units: 3,
                    most_units: 6,
                };
                let truth = TrueCurve { link: Link::Logit, intercept: a, slope: b };
                operating_characteristics(&rule, truth, 2, 1)
            });
        }
        let input = format!("{a:e}");
        let (t, input) = (&mut table, input.as_str());
        for (hits, of) in
            [(0, 0), (0, 1), (1, 1), (2, 1), (3, 9), (0, u64::MAX), (u64::MAX, u64::MAX)]
        {
            t.ask("clopper_pearson", input, || clopper_pearson(hits, of, a));
            t.ask("wilson", input, || wilson(hits, of, a));
            t.ask("jeffreys", input, || jeffreys(hits, of, a));
            t.ask("newcombe", input, || newcombe((hits, of), (1, 3), a));
            t.ask("effective_number", input, || {
                replicates::effective_number(&[(hits, of), (1, 3)], a)
            });
            t.ask("effective_number of none", input, || replicates::effective_number(&[], a));
            t.ask("acceptance_probability", input, || {
                acceptance::acceptance_probability(of.min(1_000_000), hits.min(1_000_000), a)
            });
            t.ask("quality_at_acceptance", input, || {
                acceptance::quality_at_acceptance(of.min(1_000_000), hits.min(1_000_000), a)
            });
            t.ask("finite_acceptance_probability", input, || {
                acceptance::finite_acceptance_probability(of.min(100), hits.min(100), 5, 1)
            });
            t.ask("outgoing_quality_limit", input, || {
                acceptance::outgoing_quality_limit(of.min(100), hits.min(50), 1)
            });
            t.plain("code_letter", input, || {
                single_plans::code_letter(of, single_plans::Level::II)
            });
            t.ask("single_plan", input, || {
                single_plans::single_plan(of, single_plans::Level::II, a)
            });
            let counts = vec![vec![hits.min(1 << 40), 1], vec![0, of.min(1 << 40)]];
            t.ask("cohen", input, || agreement::cohen(&counts, a));
            t.ask("fleiss", input, || agreement::fleiss(&counts, a));
        }
        for n in [0, 1, 2, 3, 7, 30, 1000] {
            t.ask("critical_value", input, || dixon::critical_value(n.min(30), a));
            t.plain("critical_h", input, || interlaboratory::critical_h(n));
            t.plain("critical_k", input, || interlaboratory::critical_k(n, a));
            t.ask("d2", input, || constants::d2(n.min(50)));
            t.ask("d3", input, || constants::d3(n.min(10)));
            t.ask("c4", input, || constants::c4(n));
            t.ask("factors", input, || constants::factors(n.min(10)));
            t.ask("full_factorial", input, || designs::full_factorial(n.min(31)).map(|_| ()));
            t.ask("plackett_burman", input, || designs::plackett_burman(n, 3).map(|_| ()));
            t.ask("definitive_screening", input, || {
                designs::definitive_screening(n.min(30)).map(|d| designs::largest_overlap(&d))
            });
            t.ask("central_composite", input, || designs::central_composite(n.min(8), a, 2));
            t.ask("fractional_factorial", input, || {
                designs::fractional_factorial(n.min(8), &[(true, vec![0, n])])
            });
            t.ask("aliases", input, || aliasing::aliases(n.min(8), &[(true, vec![0, n])]));
        }
        t.ask("price_of_lots", input, || {
            random_lots::price_of_lots(3, 5, a, 0.99, 0.95, random_lots::Pivot::Full, 2)
        });
        t.plain("model_row", input, || response_surface::model_row(&[0.5, 1.0]));
    }
    table.finish(3000, 3000);
}

#[test]
fn the_search_finds_a_planted_fault() {
    assert!(not_finite("Fit { slope: NaN }") && not_finite("(1.0, inf)") && not_finite("-inf"));
    assert!(!not_finite("Note { text: \"information\" }"));
    let mut table = Table::default();
    table.plain("planted", "nothing", || f64::NAN);
    table.ask("planted", "nothing", || -> Result<f64, statistics::CannotSay> { panic!("planted") });
    table.ask("planted", "nothing", || Err::<f64, _>("no"));
    assert_eq!(table.faults.len(), 3);
}

//! The accounts of results: what a validation scientist would paste into a
//! report holds for the data at hand, in plain words and without promises.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used)]

use statistics::adaptive_study::{Rule, TrueCurve, next_size, operating_characteristics};
use statistics::assumptions::{anderson_darling, grubbs, order, shapiro_wilk};
use statistics::autocorrelation::slope_with_autocorrelation;
use statistics::comparison::{
    bland_altman, equivalence_paired, equivalence_two_groups, passing_bablok,
};
use statistics::control_charts::{capability, change_point, cusum, ewma, individuals, means};
use statistics::detection::logistic::{Estimation, LogisticRow, logistic};
use statistics::detection::posterior::{Grid, logistic_posterior};
use statistics::detection::signal_response::{KindsAgree, Signal, censored_line, kinds_agree};
use statistics::detection::{HitMiss, Link, bootstrap_place, fit_hit_miss, fit_single_trials};
use statistics::experiments::success::{Criterion, probability_of_success};
use statistics::experiments::{aliasing, designs, effects, response_surface};
use statistics::proportions::difference::newcombe;
use statistics::proportions::{clopper_pearson, replicates, single_plans};
use statistics::regression::errors_in_both::deming;
use statistics::regression::{
    detection_limit, lack_of_fit, least_squares, quantitation, straight_line, weighted_line,
};
use statistics::size_exponent::{SizeReading, size_exponent};
use statistics::summaries::{GroupSummary, groups_differ, pooled};
use statistics::tolerance_limits::{self as limits, random_lots, transformed, two_errors};
use statistics::uncertainty::{Distribution, Input, monte_carlo, propagate};
use statistics::variance_components::restricted_likelihood::restricted_likelihood;
use statistics::variance_components::{agreement, crossed, gauge, nested, one_way};
use statistics::{Account, Assumption, interlaboratory};

/// Words that promise more than a calculation can.
const PROMISES: [&str; 7] =
    ["validated", "guarantee", "complies", "compliant", "proves that", "certified", "approved"];

/// Readings of five sizes, and judgements that contradict them.
fn kinds() -> KindsAgree {
    let sizes: Vec<f64> = (0..30).map(|i| f64::from(i % 5) + 1.0).collect();
    let mut signals: Vec<Signal> = sizes[..15]
        .iter()
        .zip(0..)
        .map(|(x, i)| Signal::Read(x + 0.1 * f64::from(i % 3)))
        .collect();
    // Found only from a size of five on, where the readings say three.
    signals.extend(sizes[15..].iter().map(|x| match *x > 4.5 {
        true => Signal::Above(3.0),
        false => Signal::Below(3.0),
    }));
    let judged: Vec<bool> = (0..30).map(|i| i >= 15).collect();
    kinds_agree(&sizes, &signals, None, &judged).unwrap()
}

/// What is wrong with an account.
fn faults(name: &str, result: &dyn Account) -> Vec<String> {
    let mut found = Vec::new();
    let mut sentence = |what: &str, text: &str| {
        let known = text.ends_with(['.', '!', '?']) && text.len() > 5;
        if !known || text.contains("..") {
            found.push(format!("{name}: {what} is no sentence: {text}"));
        }
    };
    for note in result.notes() {
        sentence("a note", &note.text);
        sentence("a next step", &note.next_step);
    }
    for assumption in result.assumptions() {
        sentence("a finding", &assumption.finding);
    }
    if result.assumptions().is_empty() {
        found.push(format!("{name}: supposes nothing"));
    }
    if result.method().len() < 10 || result.method().ends_with('.') {
        found.push(format!("{name}: method `{}`", result.method()));
    }
    let counted = result.counted();
    if counted.what.is_empty() || counted.number.is_some_and(|n| !(n > 0.0 && n.is_finite())) {
        found.push(format!("{name}: counts {counted:?}"));
    }
    let words = format!("{} {:?} {:?}", result.method(), result.assumptions(), result.notes());
    for word in PROMISES {
        if words.to_lowercase().contains(word) {
            found.push(format!("{name}: promises `{word}`"));
        }
    }
    found
}

fn readings() -> Vec<f64> {
    // Invented, without order or outlier.
    vec![
        10.2, 9.1, 11.4, 10.9, 8.8, 10.1, 9.6, 12.0, 10.4, 9.9, 11.1, 8.9, 10.7, 9.4, 10.0, 11.6,
        9.7, 10.3, 10.8, 9.2, 10.5, 11.0, 9.8, 10.6,
    ]
}

fn sizes() -> Vec<f64> {
    (0..24).map(|i| 1.0 + f64::from(i)).collect()
}

fn trials() -> Vec<(f64, bool)> {
    sizes().iter().enumerate().map(|(i, x)| (*x, i > 14 || (i > 6 && i % 3 == 0))).collect()
}

fn hits() -> Vec<HitMiss> {
    trials()
        .iter()
        .map(|(size, hit)| HitMiss { size: *size, hits: u64::from(*hit), of: 1 })
        .collect()
}

fn group(label: &str, mean: f64) -> GroupSummary {
    GroupSummary { label: label.into(), mean, standard_deviation: 1.1, n: 8 }
}

fn line_readings() -> Vec<f64> {
    sizes().iter().zip(readings()).map(|(x, e)| 2.0 * x + e).collect()
}

fn cells() -> Vec<Vec<Vec<f64>>> {
    readings().chunks(6).map(|outer| outer.chunks(2).map(<[f64]>::to_vec).collect()).collect()
}

/// Every kind of result once, on ordinary invented data.
fn every_result() -> Vec<(&'static str, Box<dyn Account>)> {
    let (r, x, y) = (readings(), sizes(), line_readings());
    let groups: Vec<Vec<f64>> = r.chunks(6).map(<[f64]>::to_vec).collect();
    let plain = straight_line(&x, &y).unwrap();
    let table = crossed(&cells()).unwrap();
    let good = two_errors::Population { mean: 10.0, standard_deviation: 1.0, n: 24 };
    let leaky = two_errors::Population { mean: 30.0, standard_deviation: 2.0, n: 12 };
    let points = designs::central_composite(2, 1.4, 4).unwrap();
    let responses: Vec<f64> = points.iter().zip(&r).map(|(p, e)| p[0] - p[1] * p[1] + e).collect();
    let surface = response_surface::response_surface(&points, &responses, None).unwrap();
    let success = probability_of_success(
        &[Criterion { surface: &surface, lower: Some(5.0), upper: None }],
        &[0.0, 0.0],
    );
    let rule = Rule {
        available: vec![1.0, 2.0, 4.0],
        link: Link::Logit,
        probability: 0.9,
        confidence: 0.9,
        critical_size: 4.0,
        fewest_units: 8,
        most_units: 12,
    };
    let truth = TrueCurve { link: Link::Logit, intercept: 0.0, slope: 2.0 };
    let rows: Vec<LogisticRow> = trials()
        .iter()
        .map(|(x, hit)| LogisticRow { hits: u64::from(*hit), of: 1, columns: vec![1.0, *x] })
        .collect();
    let counts: Vec<(f64, u64, u64)> =
        trials().iter().map(|(x, hit)| (*x, u64::from(*hit), 1)).collect();
    let grid = Grid {
        intercept: (-15.0, 5.0),
        intercept_points: 60,
        slope: (-1.0, 2.0),
        slope_points: 60,
    };
    let signals: Vec<Signal> = y.iter().map(|v| Signal::Read(*v)).collect();
    let columns: Vec<Vec<f64>> = x.iter().map(|v| vec![1.0, *v]).collect();
    let separated: Vec<HitMiss> =
        hits().iter().map(|row| HitMiss { hits: u64::from(row.size > 12.0), ..*row }).collect();
    let step = |size: f64, mean: f64| SizeReading {
        size,
        mean,
        standard_deviation: 0.5,
        n: 6,
        censored: false,
    };
    let two_levels = designs::full_factorial(3).unwrap();
    let summary = [group("a", 10.0), group("b", 10.4), group("c", 11.0)];
    let verdicts = [vec![20, 3], vec![2, 15]];
    let first = r.clone();
    let second: Vec<f64> = r.iter().rev().map(|v| v + 0.1).collect();
    let repeated: Vec<f64> = x.iter().map(|v| (v / 3.0).ceil()).collect();
    let separate_fit = fit_hit_miss(&separated, Link::Logit, true, 0.95).unwrap();
    vec![
        ("UpperLimit", Box::new(limits::upper_limit_from_values(&r, 0.99, 0.95).unwrap())),
        ("nonparametric", Box::new(limits::nonparametric::upper_limit(&r, 0.8, 0.9).unwrap())),
        (
            "from summary",
            Box::new(limits::upper_limit_from_summary(1.0, 0.1, 9, 0.9, 0.9).unwrap()),
        ),
        ("Power", Box::new(transformed::box_cox_power(&r).unwrap())),
        (
            "LotLimit",
            Box::new(
                random_lots::upper_limit(&groups, 0.99, 0.95, random_lots::Pivot::Full).unwrap(),
            ),
        ),
        (
            "LotPlan",
            Box::new(random_lots::plan(3, 5, 0.5, 0.99, 0.95, random_lots::Pivot::Full).unwrap()),
        ),
        ("ShareAbove", Box::new(two_errors::share_above(10.0, 1.0, 12, 13.0, 0.95).unwrap())),
        ("TwoErrors", Box::new(two_errors::judge_limit(14.0, good, leaky, 0.95).unwrap())),
        ("SimpleRule", Box::new(two_errors::simple_rule(10, 3.0, 0.95).unwrap())),
        ("ShapiroWilk", Box::new(shapiro_wilk::shapiro_wilk(&r).unwrap())),
        ("AndersonDarling", Box::new(anderson_darling::anderson_darling(&r).unwrap())),
        ("Grubbs", Box::new(grubbs::grubbs(&r, 0.05).unwrap())),
        ("VonNeumann", Box::new(order::von_neumann(&r).unwrap())),
        ("Runs", Box::new(order::runs_about_median(&r).unwrap())),
        ("Trend", Box::new(order::mann_kendall(&r).unwrap())),
        ("SlopeEstimate", Box::new(slope_with_autocorrelation(&x, &y).unwrap())),
        ("Agreement", Box::new(bland_altman(&first, &second, 2.0, 0.95).unwrap())),
        ("Equivalence", Box::new(equivalence_paired(&first, &second, 1.0, 0.05).unwrap())),
        (
            "two groups",
            Box::new(equivalence_two_groups(&summary[0], &summary[1], 2.0, 0.05).unwrap()),
        ),
        ("RankLine", Box::new(passing_bablok(&x, &y, 0.95).unwrap())),
        (
            "Capability",
            Box::new(capability::capability(10.0, 1.0, 24, None, Some(14.0), 0.95).unwrap()),
        ),
        ("ChangePoint", Box::new(change_point::change_point(&r, 99, 1).unwrap())),
        ("Cusum", Box::new(cusum::cusum(&r, 9.0, 0.2, 4.0).unwrap())),
        ("Ewma", Box::new(ewma::ewma(&r, 9.0, 0.5, 0.2, 2.5).unwrap())),
        ("Individuals", Box::new(individuals::individuals(&r).unwrap())),
        (
            "Means",
            Box::new(
                means::means(
                    &r.chunks(4).map(<[f64]>::to_vec).collect::<Vec<_>>(),
                    means::Spread::Range,
                )
                .unwrap(),
            ),
        ),
        ("HitMissFit", Box::new(fit_hit_miss(&hits(), Link::Logit, true, 0.95).unwrap())),
        ("PenalisedFit", Box::new(separate_fit.penalised.unwrap())),
        ("LogisticFit", Box::new(logistic(&rows, Estimation::MaximumLikelihood).unwrap())),
        ("Posterior", Box::new(logistic_posterior(&counts, None, grid).unwrap())),
        ("CensoredLine", Box::new(censored_line(&columns, &signals, None).unwrap())),
        ("KindsAgree", Box::new(kinds())),
        ("SingleTrials", Box::new(fit_single_trials(&trials(), 0.9, 0.95).unwrap())),
        ("Bootstrap", Box::new(bootstrap_place(&trials(), 0.9, 50, 1).unwrap())),
        ("NextSize", Box::new(next_size(&hits(), &x, Link::Logit, 0.9).unwrap())),
        (
            "OperatingCharacteristics",
            Box::new(operating_characteristics(&rule, truth, 5, 1).unwrap()),
        ),
        ("Aliases", Box::new(aliasing::aliases(3, &[(false, vec![0, 1])]).unwrap())),
        ("Effects", Box::new(effects::effects(&two_levels, &r[..8], 3).unwrap())),
        ("Success", Box::new(success.unwrap())),
        ("Surface", Box::new(surface)),
        ("Precision", Box::new(interlaboratory::from_summaries(&summary, None).unwrap())),
        ("ProportionBounds", Box::new(clopper_pearson(29, 30, 0.95).unwrap())),
        ("Difference", Box::new(newcombe((28, 30), (25, 30), 0.95).unwrap())),
        (
            "EffectiveNumber",
            Box::new(replicates::effective_number(&[(3, 3), (1, 3), (3, 3)], 0.95).unwrap()),
        ),
        (
            "SinglePlan",
            Box::new(single_plans::single_plan(500, single_plans::Level::II, 1.0).unwrap()),
        ),
        ("DetectionLimit", Box::new(detection_limit(&plain, 1, 0.05, 0.05).unwrap())),
        ("ConventionalLimits", Box::new(quantitation::conventional_limits(&plain).unwrap())),
        ("InversePrediction", Box::new(plain.inverse(30.0, 1, 0.95).unwrap())),
        ("StraightLine", Box::new(plain)),
        ("WeightedLine", Box::new(weighted_line(&x, &y, &[1.0; 24]).unwrap())),
        ("BothAxes", Box::new(deming(&x, &y, 1.0).unwrap())),
        ("LackOfFit", Box::new(lack_of_fit(&repeated, &y, 1).unwrap())),
        ("LinearFit", Box::new(least_squares(&[vec![1.0; 24], x.clone()], &y, None).unwrap())),
        (
            "Exponent",
            Box::new(size_exponent(&[step(1.0, 4.0), step(2.0, 16.0)], None, 0.95).unwrap()),
        ),
        ("Pooled", Box::new(pooled(&summary).unwrap())),
        ("GroupsDiffer", Box::new(groups_differ(&summary).unwrap())),
        (
            "MonteCarlo",
            Box::new(
                monte_carlo(|v| v[0], &[Distribution::Normal(1.0, 0.1)], 0.95, 2000, 1).unwrap(),
            ),
        ),
        (
            "Budget",
            Box::new(
                propagate(
                    |v| v[0],
                    &[Input {
                        name: "x".into(),
                        value: 1.0,
                        uncertainty: 0.1,
                        degrees_of_freedom: f64::INFINITY,
                    }],
                    None,
                )
                .unwrap(),
            ),
        ),
        ("Kappa", Box::new(agreement::cohen(&verdicts, 0.95).unwrap())),
        ("Gauge", Box::new(gauge::from_crossed(&table, false).unwrap())),
        ("Crossed", Box::new(table)),
        ("Nested", Box::new(nested(&cells()).unwrap())),
        ("OneWay", Box::new(one_way(&groups).unwrap())),
        ("Restricted", Box::new(restricted_likelihood(&cells()).unwrap())),
    ]
}

#[test]
fn accounts_are_sentences_without_promises() {
    let all = every_result();
    assert!(all.len() >= 60, "{}", all.len());
    let found: Vec<String> =
        all.iter().flat_map(|(name, result)| faults(name, result.as_ref())).collect();
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn a_poor_account_is_noticed() {
    struct Poor;
    impl Account for Poor {
        fn method(&self) -> &str {
            "x."
        }
        fn counted(&self) -> statistics::Counted {
            statistics::Counted { number: Some(f64::NAN), what: String::new() }
        }
        fn assumptions(&self) -> Vec<Assumption> {
            vec![Assumption::looked_at("normal", "test", true, "validated")]
        }
        fn notes(&self) -> Vec<statistics::Note> {
            vec![statistics::Note::new("code", "A note.", "")]
        }
    }
    assert_eq!(faults("poor", &Poor).len(), 5);
}

fn held(result: &dyn Account, test: &str) -> Option<bool> {
    result.assumptions().iter().find(|a| a.test.starts_with(test)).unwrap().held
}

#[test]
fn what_counts_is_not_the_number_of_readings() {
    let groups: Vec<Vec<f64>> = readings().chunks(8).map(<[f64]>::to_vec).collect();
    assert_eq!(one_way(&groups).unwrap().counted().number, Some(3.0));
    let lots = random_lots::upper_limit(&groups, 0.99, 0.95, random_lots::Pivot::Full).unwrap();
    assert_eq!(lots.counted().number, Some(3.0));
    assert!(lots.counted().what.contains("24"));
    // Two units whose three readings each agree count for two.
    let effective = replicates::effective_number(&[(3, 3), (0, 3)], 0.95).unwrap();
    assert!((effective.counted().number.unwrap() - 2.0).abs() < 1e-9);
    // A plan has no data.
    let plan = random_lots::plan(3, 5, 0.5, 0.99, 0.95, random_lots::Pivot::Full).unwrap();
    assert_eq!(plan.counted().number, None);
}

#[test]
fn planted_faults_are_found_by_the_checks() {
    let x = sizes();
    let good = straight_line(&x, &line_readings()).unwrap();
    assert_eq!(held(&good, "Shapiro-Wilk"), Some(true));
    // One wild reading.
    let mut wild = line_readings();
    wild[5] += 40.0;
    assert_eq!(held(&straight_line(&x, &wild).unwrap(), "Shapiro-Wilk"), Some(false));
    // A bend leaves residuals with a pattern, and the limits inherit it.
    let bent: Vec<f64> = x.iter().zip(readings()).map(|(v, e)| 2.0 * v * v + e).collect();
    let bent = straight_line(&x, &bent).unwrap();
    assert_eq!(held(&bent, "von Neumann"), Some(false));
    assert_eq!(held(&detection_limit(&bent, 1, 0.05, 0.05).unwrap(), "von Neumann"), Some(false));
    // A group that scatters ten times as much.
    let mut groups: Vec<Vec<f64>> = readings().chunks(8).map(<[f64]>::to_vec).collect();
    assert_eq!(held(&one_way(&groups).unwrap(), "Bartlett"), Some(true));
    groups[1].iter_mut().for_each(|v| *v = 10.0 + 10.0 * (*v - 10.0));
    assert_eq!(held(&one_way(&groups).unwrap(), "Bartlett"), Some(false));
    // A drifting first phase.
    let drift: Vec<f64> = readings().iter().zip(&x).map(|(r, x)| r + 0.5 * x).collect();
    assert_eq!(held(&individuals::individuals(&drift).unwrap(), "Mann-Kendall"), Some(false));
    // Hits and misses that do not overlap.
    let apart: Vec<HitMiss> =
        hits().iter().map(|row| HitMiss { hits: u64::from(row.size > 12.0), ..*row }).collect();
    let fit = fit_hit_miss(&apart, Link::Logit, true, 0.95).unwrap();
    assert_eq!(held(&fit, "separation"), Some(false));
}

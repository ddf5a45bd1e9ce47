//! Bayesian curve and optimal points against two programs.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::adaptive_study::optimal_height;
use statistics::detection::Link;
use statistics::detection::logistic::{Estimation, LogisticRow, logistic};
use statistics::detection::posterior::{Grid, NormalPrior, Posterior, logistic_posterior};

fn posterior(normal: bool, data: &[(f64, u64, u64)]) -> Posterior {
    let prior = normal.then_some(NormalPrior {
        intercept_mean: 0.0,
        intercept_sd: 2.0,
        slope_mean: 10.0,
        slope_sd: 10.0,
        correlation: 0.5,
    });
    let (intercept, slope) =
        if normal { ((-12.0, 16.0), (-10.0, 90.0)) } else { ((-5.0, 10.0), (-10.0, 40.0)) };
    let grid = Grid { intercept, intercept_points: 1200, slope, slope_points: 1600 };
    logistic_posterior(data, prior, grid).unwrap()
}

#[test]
fn values_of_the_method_notes() {
    let Some(columns) = data("bioassay_racine1986") else { return };
    let (x, n, y) = (numbers(&columns, "x"), numbers(&columns, "n"), numbers(&columns, "y"));
    let table: Vec<(f64, u64, u64)> =
        (0..x.len()).map(|i| (x[i], y[i] as u64, n[i] as u64)).collect();
    let fit = logistic(
        &table
            .iter()
            .map(|(x, hits, of)| LogisticRow { hits: *hits, of: *of, columns: vec![1.0, *x] })
            .collect::<Vec<_>>(),
        Estimation::MaximumLikelihood,
    )
    .unwrap();
    let (normal, flat) = (posterior(true, &table), posterior(false, &table));
    for row in rows("statistics_bayes.csv") {
        let computed = match row.quantity.as_str() {
            "bio_a" => fit.coefficients[0],
            "bio_b" => fit.coefficients[1],
            "bio_sea" => fit.standard_errors[0],
            "bio_seb" => fit.standard_errors[1],
            "bio_postN_ma" => normal.intercept_mean,
            "bio_postN_mb" => normal.slope_mean,
            "bio_postN_sa" => normal.intercept_sd,
            "bio_postN_sb" => normal.slope_sd,
            "bio_postflat_box_ma" => flat.intercept_mean,
            "bio_postflat_box_mb" => flat.slope_mean,
            "bio_postflat_box_sa" => flat.intercept_sd,
            "bio_postflat_box_sb" => flat.slope_sd,
            "dopt_logit_eta" => optimal_height(Link::Logit),
            "dopt_logit_p" => Link::Logit.probability(optimal_height(Link::Logit)),
            "dopt_probit_eta" => optimal_height(Link::Probit),
            other => panic!("{other}"),
        };
        row.check(computed);
    }
    assert!(flat.notes.iter().any(|note| note.code == "flat-prior-on-a-box"));
}

//! Methods without a published example, against programs run for this
//! project on a fixed series.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::summary;
use statistics::comparison::power::one_sample_power;
use statistics::proportions::{difference::newcombe, jeffreys};
use statistics::regression::straight_line;
use statistics::summaries::groups_differ;
use statistics::tolerance_limits::transformed::box_cox_power;
use statistics::variance_components::agreement::{cohen, fleiss};
use statistics::variance_components::restricted_likelihood::restricted_likelihood;

/// Skewed and drifting, by whole-number arithmetic only.
fn series(n: usize) -> Vec<f64> {
    let mut state: u64 = 12_345;
    (0..n)
        .map(|i| {
            state = state * 16_807 % 2_147_483_647;
            let u = state as f64 / 2_147_483_647.0;
            u * u * 10.0 + 0.01 * i as f64
        })
        .collect()
}

#[test]
fn values_of_other_programs() {
    let x = series(60);
    let moved = |list: &[f64], factor: f64, by: f64| -> Vec<f64> {
        list.iter().map(|v| v * factor + by).collect()
    };
    let groups = [
        summary(&x[..12]),
        summary(&moved(&x[12..30], 1.0, 1.0)),
        summary(&moved(&x[30..], 2.5, 0.0)),
    ];
    let differ = groups_differ(&groups).unwrap();
    assert!(differ.method.contains("Welch"));
    let agreement = cohen(&[vec![20, 5, 3], vec![10, 15, 2], vec![1, 4, 9]], 0.95).unwrap();
    let several =
        fleiss(&[vec![0, 3, 1], vec![2, 2, 0], vec![4, 0, 0], vec![1, 1, 2], vec![0, 0, 4]], 0.95)
            .unwrap();
    let shifted: Vec<f64> = series(40).iter().map(|v| v + 0.5).collect();
    let power = box_cox_power(&shifted).unwrap();
    let times: Vec<f64> = (0..25).map(f64::from).collect();
    let line = straight_line(&times, &series(25)).unwrap();
    let uneven = vec![
        vec![x[..5].to_vec()],
        vec![moved(&x[5..9], 1.0, 4.0)],
        vec![moved(&x[9..20], 1.0, -2.0)],
        vec![moved(&x[20..22], 1.0, 1.0)],
        vec![x[22..31].to_vec()],
    ];
    let restricted = restricted_likelihood(&uneven).unwrap();
    for row in evidence::rows("statistics_live.csv") {
        let whole = |name: &str| row.number(name) as u64;
        let difference =
            || newcombe((whole("a"), whole("m")), (whole("b"), whole("n")), 0.95).unwrap();
        let computed = match row.quantity.as_str() {
            "classical F" => differ.classical_f,
            "classical F p" => differ.classical_p_value,
            "Welch F" => differ.f,
            "Welch F p" => differ.p_value,
            "Bartlett p" => differ.equal_spread_p_value,
            "Cohen kappa" => agreement.kappa,
            "Fleiss kappa" => several.kappa,
            "Jeffreys lower" => jeffreys(whole("hits"), whole("of"), 0.95).unwrap().lower,
            "Jeffreys upper" => jeffreys(whole("hits"), whole("of"), 0.95).unwrap().upper,
            "Newcombe lower" => difference().lower,
            "Newcombe upper" => difference().upper,
            "t test power" => {
                one_sample_power(whole("n") as usize, row.number("effect"), 1.0, 0.05).unwrap()
            }
            "Box-Cox power" => power.lambda,
            "Box-Cox power lower" => power.interval.0,
            "Box-Cox power upper" => power.interval.1,
            "slope" => line.slope,
            "slope standard error" => line.slope_standard_error,
            "slope p" => line.slope_p_value(),
            "REML criterion" => restricted.criterion,
            "REML between" => restricted.outer,
            "REML within" => restricted.residual,
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
}

//! Uncertainty examples of the guides and stability deviations.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use digits::scalar::{cos, sin};
use digits::sums;
use evidence::{data, numbers, rows};
use statistics::regression::straight_line;
use statistics::uncertainty::allan::{Kind, deviation};
use statistics::uncertainty::{
    Budget, Distribution, Input, MonteCarlo, monte_carlo, monte_carlo_correlated, propagate,
};

fn input(name: &str, value: f64, uncertainty: f64, degrees_of_freedom: f64) -> Input {
    Input { name: name.into(), value, uncertainty, degrees_of_freedom }
}

/// JCGM 100, H.1: an end gauge.
fn end_gauge() -> Budget {
    let inputs = [
        input("standard", 50.000_623, 25e-6, 18.0),
        input("difference", 215e-6, 9.7e-6, 25.6),
        input("expansion", 11.5e-6, 1.2e-6, f64::INFINITY),
        input("temperature", -0.1, 0.41, f64::INFINITY),
        input("difference of expansion", 0.0, 0.58e-6, 50.0),
        input("difference of temperature", 0.0, 0.029, 2.0),
    ];
    propagate(|x| x[0] + x[1] - x[0] * (x[4] * x[3] + x[2] * x[5]), &inputs, None).unwrap()
}

/// JCGM 100, H.2: resistance and reactance from the same five readings.
fn resistance() -> Option<[f64; 7]> {
    let columns = data("gum_h2")?;
    let lists: Vec<Vec<f64>> = ["V", "I_mA", "phi"].iter().map(|c| numbers(&columns, c)).collect();
    let n = lists[0].len() as f64;
    let means: Vec<f64> = lists.iter().map(|l| sums::mean(l).unwrap()).collect();
    let errors: Vec<f64> =
        lists.iter().map(|l| sums::standard_deviation(l).unwrap() / n.sqrt()).collect();
    let correlation: Vec<Vec<f64>> = (0..3)
        .map(|i| {
            (0..3)
                .map(|j| {
                    let products = (0..lists[0].len())
                        .map(|k| (lists[i][k] - means[i]) * (lists[j][k] - means[j]));
                    let r = sums::sum(products) / (n - 1.0) / n / (errors[i] * errors[j]);
                    r.clamp(-1.0, 1.0)
                })
                .collect()
        })
        .collect();
    let inputs: Vec<Input> =
        (0..3).map(|i| input("reading", means[i], errors[i], f64::INFINITY)).collect();
    let ohm = |x: &[f64]| 1000.0 * x[0] / x[1];
    let r = propagate(|x| ohm(x) * cos(x[2]), &inputs, Some(&correlation)).unwrap();
    let x = propagate(|x| ohm(x) * sin(x[2]), &inputs, Some(&correlation)).unwrap();
    let z = propagate(ohm, &inputs, Some(&correlation)).unwrap();
    // Simulated with the same correlations: the model is nearly straight, so
    // the uncertainties agree but for the draws (four standard errors).
    let drawn: Vec<Distribution> =
        (0..3).map(|i| Distribution::Normal(means[i], errors[i])).collect();
    let names = ["V", "I", "phi"];
    for (budget, model) in [
        (&r, (|x| 1000.0 * x[0] / x[1] * cos(x[2])) as fn(&[f64]) -> f64),
        (&x, |x| 1000.0 * x[0] / x[1] * sin(x[2])),
        (&z, |x| 1000.0 * x[0] / x[1]),
    ] {
        let simulated =
            monte_carlo_correlated(model, &drawn, &names, &correlation, 0.95, 100_000, 7).unwrap();
        assert!((simulated.uncertainty / budget.uncertainty - 1.0).abs() < 0.009, "{simulated:?}");
        assert!((simulated.mean - budget.value).abs() < 0.02 * budget.uncertainty);
    }
    // Covariance of R and X from the uncertainty of their sum.
    let both =
        propagate(|v| ohm(v) * (cos(v[2]) + sin(v[2])), &inputs, Some(&correlation)).unwrap();
    let square = |v: f64| v * v;
    let covariance =
        0.5 * (square(both.uncertainty) - square(r.uncertainty) - square(x.uncertainty));
    Some([
        r.value,
        r.uncertainty,
        x.value,
        x.uncertainty,
        z.value,
        z.uncertainty,
        covariance / (r.uncertainty * x.uncertainty),
    ])
}

/// JCGM 100, H.3: calibration of a thermometer.
fn thermometer() -> Option<[f64; 7]> {
    let columns = data("gum_h3")?;
    let t: Vec<f64> = numbers(&columns, "t").iter().map(|v| v - 20.0).collect();
    let line = straight_line(&t, &numbers(&columns, "b")).unwrap();
    let (u1, u2) = (line.intercept_standard_error, line.slope_standard_error);
    let r = -line.mean_x * u2 / u1;
    let at = line.mean_at(10.0, 0.95).unwrap();
    let half = at.upper - at.value;
    let t_value = statistics::distributions::student_t::quantile(0.975, line.degrees_of_freedom);
    Some([line.intercept, u1, line.slope, u2, r, at.value, half / t_value])
}

fn mass() -> (MonteCarlo, Budget) {
    let model = |x: &[f64]| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 1e5;
    let drawn = [
        Distribution::Normal(1e5, 0.05),
        Distribution::Normal(1.234, 0.02),
        Distribution::Rectangular(1.1, 1.3),
        Distribution::Rectangular(7000.0, 9000.0),
        Distribution::Rectangular(7950.0, 8050.0),
    ];
    let simulated = monte_carlo(model, &drawn, 0.95, 400_000, 1).unwrap();
    let width = |a: f64, b: f64| (b - a) / 12.0_f64.sqrt();
    let inputs = [
        input("reference", 1e5, 0.05, f64::INFINITY),
        input("difference", 1.234, 0.02, f64::INFINITY),
        input("air", 1.2, width(1.1, 1.3), f64::INFINITY),
        input("density", 8000.0, width(7000.0, 9000.0), f64::INFINITY),
        input("reference density", 8000.0, width(7950.0, 8050.0), f64::INFINITY),
    ];
    (simulated, propagate(model, &inputs, None).unwrap())
}

/// JCGM 101, 9.4: x1^2 + x2^2 near zero.
fn squares(x1: f64) -> (Budget, MonteCarlo) {
    let model = |x: &[f64]| x[0] * x[0] + x[1] * x[1];
    let inputs = [input("x1", x1, 0.005, f64::INFINITY), input("x2", 0.0, 0.005, f64::INFINITY)];
    let drawn = [Distribution::Normal(x1, 0.005), Distribution::Normal(0.0, 0.005)];
    (
        propagate(model, &inputs, None).unwrap(),
        // Coverage 0.95 with equal tails ends at the 97.5 % point.
        monte_carlo(model, &drawn, 0.95, 400_000, 2).unwrap(),
    )
}

fn thousand() -> Vec<f64> {
    let mut state: u64 = 1_234_567_890;
    (0..1000)
        .map(|i| {
            if i > 0 {
                state = state * 16_807 % 2_147_483_647;
            }
            state as f64 / 2_147_483_647.0
        })
        .collect()
}

#[test]
fn values_of_the_method_notes() {
    let (Some(nine), Some(ohms), Some(degrees)) =
        (data("nbs14_9freq"), resistance(), thermometer())
    else {
        return;
    };
    let nine = numbers(&nine, "f");
    let gauge = end_gauge();
    let (weighed, weighed_first) = mass();
    let four = [Distribution::Rectangular(-(3.0_f64.sqrt()), 3.0_f64.sqrt()); 4];
    let sum = monte_carlo(|x| x.iter().sum(), &four, 0.95, 2_000_000, 3).unwrap();
    let near: Vec<(String, (Budget, MonteCarlo))> = ["0", "0.01", "0.05"]
        .iter()
        .map(|x| ((*x).to_owned(), squares(x.parse().unwrap())))
        .collect();
    for row in rows("statistics_uncertainty.csv") {
        let id = row.quantity.as_str();
        let parts: Vec<&str> = id.split('_').collect();
        let computed = match parts.as_slice() {
            ["gum", "h1", "l"] => gauge.value,
            ["gum", "h1", "u", "nm"] => gauge.uncertainty * 1e6,
            ["gum", "h1", "dof"] => gauge.degrees_of_freedom,
            ["gum", "h1", "U99", "nm"] => gauge.expanded(0.99).unwrap() * 1e6,
            ["gum", "h2", what] => {
                let names = ["R", "uR", "X", "uX", "Z", "uZ", "rRX"];
                ohms[names.iter().position(|n| n == what).unwrap()]
            }
            ["gum", "h3", what] => {
                let names = ["y1", "u1", "y2", "u2", "r", "b30", "ub30"];
                degrees[names.iter().position(|n| n == what).unwrap()]
            }
            ["jcgm101", "922", ..] => 2.0 * statistics::distributions::normal::quantile(0.975),
            ["jcgm101", "923", "rect", "u"] => sum.uncertainty,
            ["jcgm101", "923", "rect", "U95"] => 0.5 * (sum.symmetric.1 - sum.symmetric.0),
            ["jcgm101", "93", "mc", "y"] => weighed.mean,
            ["jcgm101", "93", "mc", "u"] => weighed.uncertainty,
            ["jcgm101", "93", "mc", "short", "lo"] => weighed.shortest.0,
            ["jcgm101", "93", "mc", "short", "hi"] => weighed.shortest.1,
            ["jcgm101", "93", "guf", "u"] => weighed_first.uncertainty,
            ["jcgm101", "94", x, what, ..] => {
                let (_, (budget, simulated)) = near.iter().find(|(n, _)| *n == x[1..]).unwrap();
                1e6 * match *what {
                    "y1e6" => budget.second_order_value,
                    "u1e6" => budget.second_order_uncertainty,
                    _ => simulated.symmetric.1,
                }
            }
            ["nbs14", set, .., kind, span] => {
                let kind = match *kind {
                    "adev" => Kind::Plain,
                    "oadev" => Kind::Overlapping,
                    "mdev" => Kind::Modified,
                    "hdev" => Kind::Hadamard,
                    "totdev" => Kind::Total,
                    other => panic!("{other}"),
                };
                let readings = if *set == "9" { nine.clone() } else { thousand() };
                deviation(&readings, span.parse().unwrap(), kind).unwrap()
            }
            other => panic!("{other:?} is not computed by this test"),
        };
        row.check(computed);
    }
    assert!(weighed_first.notes.iter().any(|note| note.code == "first-order-fails"));
}

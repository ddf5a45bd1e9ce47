//! Chart constants, run lengths and examples against two programs.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::control_charts::{capability, constants, cusum, ewma, individuals, means};

fn number(text: &str) -> f64 {
    let text = if text.starts_with('.') { format!("0{text}") } else { text.to_owned() };
    text.parse().unwrap()
}

#[test]
fn values_of_the_method_notes() {
    let (Some(smooth), Some(summed)) = (data("nist_ewma"), data("nist_cusum")) else { return };
    let smooth = numbers(&smooth, "x");
    let chart = ewma::ewma(&smooth, 50.0, 2.0539, 0.3, 3.0).unwrap();
    let single = individuals::individuals(&smooth[10..]).unwrap();
    // The example prints its limits with d2 rounded to 1.128.
    let printed_limit = |sign: f64| single.mean + sign * 3.0 * single.moving_range / 1.128;
    let sums = cusum::cusum(&numbers(&summed, "x"), 325.0, 0.3175, 4.1959).unwrap();
    let example = capability::capability(16.0, 2.0, 50, Some(8.0), Some(20.0), 0.95).unwrap();
    let unit = capability::capability(0.0, 1.0, 50, Some(-3.0), Some(3.0), 0.95).unwrap();
    let shifted = capability::capability(0.0, 1.0, 50, None, Some(3.99), 0.95).unwrap();
    for row in rows("statistics_control_charts.csv") {
        let parts: Vec<&str> = row.quantity.split('_').collect();
        let computed = match parts.as_slice() {
            ["d2", n] => constants::d2(n.parse().unwrap()).unwrap(),
            ["d3", n] => constants::d3(n.parse().unwrap()).unwrap(),
            ["c4", n] => constants::c4(n.parse().unwrap()).unwrap(),
            ["A2", n] => constants::factors(n.parse().unwrap()).unwrap().a2,
            ["A3", n] => constants::factors(n.parse().unwrap()).unwrap().a3,
            ["D4", n] => constants::factors(n.parse().unwrap()).unwrap().d4,
            ["B4", n] => constants::factors(n.parse().unwrap()).unwrap().b4,
            ["arl", "cusum", k, h, shift] => {
                cusum::average_run_length(number(&k[1..]), number(&h[1..]), number(shift)).unwrap()
            }
            ["arl", "ewma", lambda, width, shift] => {
                ewma::average_run_length(number(lambda), number(width), number(shift)).unwrap()
            }
            ["arl", "shewhart3"] => ewma::average_run_length(1.0, 3.0, 0.0).unwrap(),
            ["nist", "ewma", "last"] => *chart.values.last().unwrap(),
            ["nist", "ewma", "10"] => chart.values[9],
            ["nist", "ewma", "UCL"] => chart.limits.1,
            ["nist", "ewma", "LCL"] => chart.limits.0,
            ["nist", "imr", "mean"] => single.mean,
            ["nist", "imr", "mr"] => single.moving_range,
            ["nist", "imr", "ucl"] => printed_limit(1.0),
            ["nist", "imr", "lcl"] => printed_limit(-1.0),
            ["nist", "cusum", "shi", _] => *sums.high.last().unwrap(),
            ["nist", "cusum", "first", "signal"] => sums.signals[0] as f64 + 1.0,
            ["cp", "nist"] => example.cp.unwrap(),
            ["cpk", "nist"] => example.cpk,
            ["cp", "ci", "lo", _] => unit.cp_interval.unwrap().0,
            ["cp", "ci", "hi", _] => unit.cp_interval.unwrap().1,
            ["cpk", "lb", "exact", ..] => shifted.cpk_lower,
            ["cpk", "lb", "approx", ..] => shifted.cpk_lower_approximate,
            other => panic!("{other:?} is not computed by this test"),
        };
        row.check(computed);
    }
}

#[test]
fn piston_rings_of_a_public_set() {
    let relative = "../../../shared/data/statistics/qcc__pistonrings.tsv";
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(relative);
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("skipped: the public data sets are not on this machine");
        return;
    };
    let mut samples: Vec<Vec<f64>> = Vec::new();
    let mut last = "";
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split_whitespace().collect();
        if cells[1] != last {
            last = cells[1];
            samples.push(Vec::new());
        }
        samples.last_mut().unwrap().push(cells[0].parse().unwrap());
    }
    let chart = means::means(&samples[..25], means::Spread::Range).unwrap();
    // Data notes: 74.001176, 0.02276, 73.98804 to 74.01431, out 37, 38, 39.
    assert!((chart.centre - 74.001_176).abs() < 5e-7);
    assert!((chart.mean_spread - 0.022_76).abs() < 5e-6);
    assert!((chart.limits.0 - 73.988_04).abs() < 1e-5 && (chart.limits.1 - 74.014_31).abs() < 1e-5);
    let out: Vec<usize> = (25..40)
        .filter(|i| {
            let mean = digits::sums::mean(&samples[*i]).unwrap();
            mean > chart.limits.1 || mean < chart.limits.0
        })
        .map(|i| i + 1)
        .collect();
    assert_eq!(out, vec![37, 38, 39]);
}

//! Designed experiments against two programs and printed examples.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::experiments::{designs, effects, response_surface};

#[test]
fn values_of_the_method_notes() {
    let (Some(chemical), Some(filtration)) = (data("chemreact_ccd"), data("filtration_2to4"))
    else {
        return;
    };
    let points: Vec<Vec<f64>> = numbers(&chemical, "Time")
        .iter()
        .zip(numbers(&chemical, "Temp"))
        .map(|(time, temperature)| vec![(time - 85.0) / 5.0, (temperature - 175.0) / 5.0])
        .collect();
    let blocks: Vec<usize> = chemical["Block"].iter().map(|b| usize::from(b != "B1")).collect();
    let surface = response_surface(&points, &numbers(&chemical, "Yield"), Some(&blocks)).unwrap();
    let columns: Vec<Vec<f64>> =
        ["A", "B", "C", "D"].iter().map(|c| numbers(&filtration, c)).collect();
    let runs: Vec<Vec<f64>> =
        (0..16).map(|i| columns.iter().map(|column| column[i]).collect()).collect();
    let rates = effects(&runs, &numbers(&filtration, "rate"), 4).unwrap();
    let burman = designs::plackett_burman(12, 11).unwrap();
    let fraction =
        designs::fractional_factorial(3, &[(false, vec![0, 1]), (false, vec![0, 2])]).unwrap();
    for row in rows("statistics_experiments.csv") {
        let computed = match row.quantity.as_str() {
            "ccd_b1" => surface.linear[0],
            "ccd_b2" => surface.linear[1],
            "ccd_b12" => 2.0 * surface.quadratic[0][1],
            "ccd_b11" => surface.quadratic[0][0],
            "ccd_b22" => surface.quadratic[1][1],
            "ccd_xs1" => surface.stationary_point.as_ref().unwrap()[0],
            "ccd_xs2" => surface.stationary_point.as_ref().unwrap()[1],
            "ccd_ev1" => surface.eigenvalues[0],
            "ccd_ev2" => surface.eigenvalues[1],
            "filt_lenth_pse" => rates.pseudo_standard_error,
            "pb12_rows" => burman.len() as f64,
            "pb12_max_offdiag" => designs::largest_overlap(&burman),
            "ff_2_5_2_rows" => fraction.len() as f64,
            "ff_2_5_2_D_eq_AB" => {
                f64::from(u8::from(fraction.iter().all(|run| run[3] == run[0] * run[1])))
            }
            id => {
                let name = id.strip_prefix("filt_").expect("a known quantity");
                rates.effects.iter().find(|(n, _)| n == name).unwrap().1
            }
        };
        row.check(computed);
    }
}

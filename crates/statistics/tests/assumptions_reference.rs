//! Normality and outlier tests against two programs.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::assumptions::{anderson_darling, dixon, grubbs, order, shapiro_wilk};

#[test]
fn values_of_the_method_notes() {
    let (Some(weights), Some(uranium), Some(gaps)) =
        (data("shapiro_wilk_weights"), data("grubbs_uranium"), data("dixon_rorabacher"))
    else {
        return;
    };
    let (weights, uranium, gaps) =
        (numbers(&weights, "x"), numbers(&uranium, "x"), numbers(&gaps, "x"));
    for row in rows("statistics_normality_outliers.csv") {
        let computed = match row.quantity.as_str() {
            "sw_W" => shapiro_wilk::shapiro_wilk(&weights).unwrap().w,
            "sw_p" => shapiro_wilk::shapiro_wilk(&weights).unwrap().p_value,
            "ad_A2" => anderson_darling::anderson_darling(&weights).unwrap().a_squared,
            "ad_p" => anderson_darling::anderson_darling(&weights).unwrap().p_value,
            "grubbs_G" => grubbs::grubbs(&uranium, 0.05).unwrap().g,
            "grubbs_crit_onesided05" => grubbs::grubbs(&uranium, 0.05).unwrap().critical_one_sided,
            "grubbs_crit_twosided05" => grubbs::grubbs(&uranium, 0.05).unwrap().critical_two_sided,
            "dixon_Q" => dixon::ratio(&gaps).unwrap(),
            other => {
                let n = other.strip_prefix("dixon_r10_95two_n").expect("a known quantity");
                dixon::critical_value(n.parse().unwrap(), 0.05).unwrap()
            }
        };
        row.check(computed);
    }
}

/// The values of `live` rows: a fixed series, checked against programs that
/// were run for this project.
fn series(name: &str) -> Vec<f64> {
    let mut state: u64 = 12_345;
    let n: usize = name.trim_start_matches("series").parse().unwrap();
    (0..n)
        .map(|i| {
            state = state * 16_807 % 2_147_483_647;
            let u = state as f64 / 2_147_483_647.0;
            // A skewed, drifting series with simple arithmetic only.
            u * u * 10.0 + 0.01 * i as f64
        })
        .collect()
}

#[test]
fn live_cross_checks() {
    for row in rows("statistics_assumptions_live.csv") {
        let values = series(row.text("values"));
        let computed = match row.quantity.as_str() {
            "Shapiro-Wilk W" => shapiro_wilk::shapiro_wilk(&values).unwrap().w,
            "Shapiro-Wilk p" => shapiro_wilk::shapiro_wilk(&values).unwrap().p_value,
            "Anderson-Darling A squared" => {
                anderson_darling::anderson_darling(&values).unwrap().a_squared
            }
            "Anderson-Darling p" => anderson_darling::anderson_darling(&values).unwrap().p_value,
            "Mann-Kendall p" => order::mann_kendall(&values).unwrap().p_value,
            "Mann-Kendall S" => order::mann_kendall(&values).unwrap().s as f64,
            "von Neumann ratio" => order::von_neumann(&values).unwrap().ratio,
            other => panic!("{other}"),
        };
        row.check(computed);
    }
}

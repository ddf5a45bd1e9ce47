//! Calibration against two programs, printed examples and certified values.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::regression::{
    detection_limit, lack_of_fit, least_squares, polynomial, quantitation, straight_line,
    weighted_line,
};

fn pair(name: &str, x: &str, y: &str) -> Option<(Vec<f64>, Vec<f64>)> {
    let columns = data(name)?;
    Some((numbers(&columns, x), numbers(&columns, y)))
}

/// Level means and the weights of the example: inverse squares of the
/// standard deviations, rounded as the source rounds them.
fn levels(x: &[f64], y: &[f64]) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
    let mut sorted = x.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup();
    let round = |v: f64, to: f64| (v * to).round_ties_even() / to;
    let (mut means, mut weights) = (Vec::new(), Vec::new());
    for level in &sorted {
        let values: Vec<f64> =
            x.iter().zip(y).filter(|(a, _)| *a == level).map(|(_, b)| *b).collect();
        means.push(digits::sums::mean(&values).unwrap());
        let deviation = round(digits::sums::standard_deviation(&values).unwrap(), 100.0);
        weights.push(round(1.0 / (deviation * deviation), 1000.0));
    }
    (sorted, means, weights)
}

#[test]
fn values_of_the_method_notes() {
    let (Some(din), Some(first), Some(third), Some(cadmium), Some(pontius)) = (
        pair("din32645", "x", "y"),
        pair("massart97ex1", "x", "y"),
        pair("massart97ex3", "x", "y"),
        pair("rl95_cadmium", "concentration", "absorption"),
        pair("strd_lls_pontius", "x", "y"),
    ) else {
        return;
    };
    let line = straight_line(&din.0, &din.1).unwrap();
    let limit = detection_limit(&line, 1, 0.05, 0.05).unwrap();
    let one = straight_line(&first.0, &first.1).unwrap();
    let (x, means, weights) = levels(&third.0, &third.1);
    let weighted = weighted_line(&x, &means, &weights).unwrap();
    for row in rows("statistics_calibration.csv") {
        let inverse = |y: f64, k: usize| one.inverse(y, k, 0.95).unwrap();
        let computed = match row.quantity.as_str() {
            "din_b0" => line.intercept,
            "din_b1" => line.slope,
            "din_sy" => line.residual_sd,
            "din_xcrit_a01" => quantitation::doubled_critical_value(&line, 1, 0.01).unwrap().0,
            "din_xD_din_a01" => quantitation::doubled_critical_value(&line, 1, 0.01).unwrap().1,
            "din_loq_k3_a01" => quantitation::quantitation_limit(&line, 1, 3.0, 0.01).unwrap(),
            "din_iso_xC_a05" => limit.critical_value,
            "din_iso_xD_a05b05" => limit.minimum_detectable_value,
            "din_iso_delta_nu8" => limit.noncentrality,
            "din_ich_lod_33" => quantitation::conventional_limits(&line).unwrap().detection,
            "din_ich_loq_10" => quantitation::conventional_limits(&line).unwrap().quantitation,
            "din_currie_ld_approx" => {
                quantitation::doubled_critical_value(&line, 1, 0.05).unwrap().1
            }
            "din_inv_3500" => line.inverse(3500.0, 1, 0.95).unwrap().x,
            "din_inv_3500_hw_a01" => line.inverse(3500.0, 1, 0.99).unwrap().classical_half_width,
            "din_fieller95_3500_lo" => line.inverse(3500.0, 1, 0.95).unwrap().lower,
            "din_fieller95_3500_hi" => line.inverse(3500.0, 1, 0.95).unwrap().upper,
            "mas1_b0" => one.intercept,
            "mas1_b1" => one.slope,
            "mas1_s" => one.residual_sd,
            "mas1_inv_15_k1" => inverse(15.0, 1).x,
            "mas1_inv_15_k1_hw" => inverse(15.0, 1).classical_half_width,
            "mas1_inv_90_k1" | "mas1_inv_90_k5" => inverse(90.0, 1).x,
            "mas1_inv_90_k1_hw" => inverse(90.0, 1).classical_half_width,
            "mas1_inv_90_k5_hw" => inverse(90.0, 5).classical_half_width,
            "mas3_lof_F" => lack_of_fit(&third.0, &third.1, 1).unwrap().f,
            "mas3_lof_p" => lack_of_fit(&third.0, &third.1, 1).unwrap().p_value,
            "cd_lof_F" => lack_of_fit(&cadmium.0, &cadmium.1, 1).unwrap().f,
            "cd_lof_p" => lack_of_fit(&cadmium.0, &cadmium.1, 1).unwrap().p_value,
            "pontius_lof_lin_F" => lack_of_fit(&pontius.0, &pontius.1, 1).unwrap().f,
            "pontius_lof_quad_F" => lack_of_fit(&pontius.0, &pontius.1, 2).unwrap().f,
            "pontius_lof_quad_p" => lack_of_fit(&pontius.0, &pontius.1, 2).unwrap().p_value,
            "mas3_wls_b0" => weighted.intercept,
            "mas3_wls_b1" => weighted.slope,
            "mas3_wls_inv_15" => weighted.inverse(15.0, 1.0, 0.95).unwrap().0,
            "mas3_wls_inv_90" => weighted.inverse(90.0, 1.0, 0.95).unwrap().0,
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
}

fn digits_of_agreement(own: f64, certified: f64) -> f64 {
    if own == certified {
        16.0
    } else {
        -digits::scalar::log10(((own - certified) / certified).abs())
    }
}

#[test]
fn certified_regressions() {
    for row in rows("statistics_strd_regression.csv") {
        let name = row.text("data");
        let Some(columns) = data(name) else { return };
        let fit = if name.ends_with("longley") {
            let mut all = vec![vec![1.0; columns["YEAR"].len()]];
            for c in ["GNPDEFL", "GNP", "UNEMP", "ARMED", "POP", "YEAR"] {
                all.push(numbers(&columns, c));
            }
            least_squares(&all, &numbers(&columns, "TOTEMP"), None).unwrap()
        } else {
            let degree = match name {
                "strd_lls_norris" => 1,
                "strd_lls_pontius" => 2,
                _ => 5,
            };
            polynomial(&numbers(&columns, "x"), &numbers(&columns, "y"), degree).unwrap()
        };
        let own = match row.quantity.as_str() {
            "resid_sd" => fit.residual_sd,
            q if q.starts_with("se") => fit.standard_errors[q[2..].parse::<usize>().unwrap()],
            q => fit.coefficients[q[1..].parse::<usize>().unwrap()],
        };
        let (reached, least) = (digits_of_agreement(own, row.value), row.number("digits"));
        assert!(reached >= least, "{name} {}: {reached:.1} digits, {least} wanted", row.quantity);
        println!("{name} {}: {reached:.1} digits", row.quantity);
    }
}

#[test]
fn longley_by_two_programs() {
    let Some(columns) = data("strd_lls_longley") else { return };
    let mut all = vec![vec![1.0; columns["YEAR"].len()]];
    for c in ["GNPDEFL", "GNP", "UNEMP", "ARMED", "POP", "YEAR"] {
        all.push(numbers(&columns, c));
    }
    let fit = least_squares(&all, &numbers(&columns, "TOTEMP"), None).unwrap();
    for row in rows("statistics_longley.csv") {
        let computed = match row.quantity.as_str() {
            "longley_s" => fit.residual_sd,
            id => fit.coefficients[id["longley_b".len()..].parse::<usize>().unwrap()],
        };
        row.check(computed);
    }
}

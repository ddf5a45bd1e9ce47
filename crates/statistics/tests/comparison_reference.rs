//! Comparison of methods against two programs and printed examples.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::comparison::{bland_altman, equivalence_paired, passing_bablok};
use statistics::regression::errors_in_both::{deming, york};

#[test]
fn values_of_the_method_notes() {
    let (Some(flow), Some(points)) = (data("pefr_bland_altman1986"), data("pearson_york")) else {
        return;
    };
    let (wright, mini) = (numbers(&flow, "wright"), numbers(&flow, "mini"));
    let york_line = york(
        &numbers(&points, "x"),
        &numbers(&points, "y"),
        &numbers(&points, "wx"),
        &numbers(&points, "wy"),
    )
    .unwrap();
    let agreement = |m: f64| bland_altman(&wright, &mini, m, 0.95).unwrap();
    let equal = equivalence_paired(&wright, &mini, 20.0, 0.05).unwrap();
    let orthogonal = deming(&wright, &mini, 1.0).unwrap();
    let ranks = passing_bablok(&wright, &mini, 0.95).unwrap();
    for row in rows("statistics_agreement.csv") {
        let computed = match row.quantity.as_str() {
            "ba_bias" => agreement(2.0).bias,
            "ba_sd" => agreement(2.0).standard_deviation,
            "ba_lo" => agreement(1.96).limits.0,
            "ba_hi" => agreement(1.96).limits.1,
            "ba_lo2" => agreement(2.0).limits.0,
            "ba_hi2" => agreement(2.0).limits.1,
            "tost_p_margin20" => equal.p_value,
            "tost_ci90_lo" => equal.interval.0,
            "tost_ci90_hi" => equal.interval.1,
            "deming_pefr_b1" => orthogonal.slope,
            "deming_pefr_b0" => orthogonal.intercept,
            "pb_pefr_b1" => ranks.slope,
            "pb_pefr_b0" => ranks.intercept,
            "pb_pefr_b1_lo" => ranks.slope_interval.0,
            "pb_pefr_b1_hi" => ranks.slope_interval.1,
            "pb_pefr_b0_lo" => ranks.intercept_interval.0,
            "pb_pefr_b0_hi" => ranks.intercept_interval.1,
            "pb_pefr_symmetry_product" => {
                ranks.slope * passing_bablok(&mini, &wright, 0.95).unwrap().slope
            }
            "york_b0" => york_line.intercept,
            "york_b1" => york_line.slope,
            "york_S" => york_line.sum_of_squares,
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
}

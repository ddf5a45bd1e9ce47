//! `assess compare` against Bland and Altman 1986 and independent programs.

use super::assess_reference::{check, run, table};
use super::number;

const FILE: &str = "statistics_agreement.csv";

#[test]
fn pairs_of_bland_and_altman() {
    let Some(path) = table("pefr_bland_altman1986.csv") else { return };
    let answer = run(&format!("assess compare {path} --first wright --second mini --margin 20"));
    for (row, at) in [
        ("ba_bias", "/agreement/bias"),
        ("ba_sd", "/agreement/standard_deviation"),
        ("ba_lo", "/agreement/lower"),
        ("ba_hi", "/agreement/upper"),
        ("tost_p_margin20", "/equivalence/p_value"),
        ("tost_ci90_lo", "/equivalence/lower"),
        ("tost_ci90_hi", "/equivalence/upper"),
        ("deming_pefr_b1", "/deming/slope"),
        ("deming_pefr_b0", "/deming/intercept"),
        ("pb_pefr_b1", "/passing_bablok/slope"),
        ("pb_pefr_b0", "/passing_bablok/intercept"),
        ("pb_pefr_b1_lo", "/passing_bablok/slope_lower"),
        ("pb_pefr_b1_hi", "/passing_bablok/slope_upper"),
        ("pb_pefr_b0_lo", "/passing_bablok/intercept_lower"),
        ("pb_pefr_b0_hi", "/passing_bablok/intercept_upper"),
    ] {
        check(FILE, row, number(&answer, at));
    }
    assert_eq!(answer["equivalence"]["equivalent"], true);
    let answer = run(&format!("assess compare {path} --first wright --second mini --multiplier 2"));
    check(FILE, "ba_lo2", number(&answer, "/agreement/lower"));
    check(FILE, "ba_hi2", number(&answer, "/agreement/upper"));
    // Without a margin nothing is said about equality.
    assert!(answer["equivalence"].is_null());
}

/// Welch by hand: 1, 2, 3 against 2, 4, 6 have a difference of -2, variance
/// 1/3 + 4/3 and 25/17 · 2 degrees of freedom.
#[test]
fn two_groups_by_hand() {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), "g,y\na,1\na,2\na,3\nb,2\nb,4\nb,6\n").unwrap();
    let answer =
        run(&format!("assess compare {} --reading y --group g --margin 1", file.path().display()));
    let near = |at: &str, value: f64| {
        assert!((number(&answer, at) - value).abs() < 1e-12, "{at}: {answer:#}");
    };
    near("/equivalence/difference", -2.0);
    near("/equivalence/standard_error", (5.0_f64 / 3.0).sqrt());
    near("/equivalence/degrees_of_freedom", 50.0 / 17.0);
    assert_eq!(answer["equivalence"]["equivalent"], false);
}

/// The planned number is the smallest: its own chance reaches the power.
#[test]
fn the_planned_number_is_enough() {
    let answer = run("assess compare --margin 2 --sd 1.7 --true-difference 0.5 --power 0.9");
    let n = number(&answer, "/n");
    for row in answer["chances"].as_array().unwrap() {
        let enough = row["equivalence_shown"].as_f64().unwrap() >= 0.9;
        assert_eq!(enough, row["n"].as_f64().unwrap() >= n, "{row}");
    }
}

//! Distribution functions against 40-digit arithmetic, tails included, and
//! quantiles against the functions they undo.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use proptest::prelude::*;
use statistics::distributions::{beta, binomial, chi_squared, f, noncentral_t, student_t};

#[test]
fn values_at_forty_digits() {
    for row in evidence::rows("statistics_distributions.csv") {
        let number = |name: &str| row.number(name);
        let computed = match row.quantity.as_str() {
            "chi-squared cumulative" => chi_squared::cumulative(number("x"), number("nu")),
            "chi-squared survival" => chi_squared::survival(number("x"), number("nu")),
            "Student t cumulative" => student_t::cumulative(number("x"), number("nu")),
            "F survival" => f::survival(number("x"), number("d1"), number("d2")),
            "beta cumulative" => beta::cumulative(number("x"), number("a"), number("b")),
            "noncentral t cumulative" => {
                noncentral_t::cumulative(number("x"), number("nu"), number("delta"))
            }
            "noncentral t survival" => {
                noncentral_t::survival(number("x"), number("nu"), number("delta"))
            }
            "binomial probability" => {
                binomial::probability(number("k") as u64, number("n") as u64, number("p"))
            }
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn quantiles_undo_their_functions(
        log_p in -60.0_f64..-0.01,
        nu in 0.3_f64..5000.0,
        d in 0.5_f64..300.0,
    ) {
        let p = digits::scalar::exp(log_p);
        let near = |value: f64| (value / p - 1.0).abs() < 1e-8;
        prop_assert!(near(chi_squared::cumulative(chi_squared::quantile(p, nu), nu)));
        prop_assert!(near(student_t::cumulative(student_t::quantile(p, nu), nu)));
        prop_assert!(near(f::survival(f::upper_quantile(p, nu, d), nu, d)));
        let b = beta::quantile(p, nu, d);
        prop_assert!(b == 0.0 || near(beta::cumulative(b, nu, d)), "{b}");
    }

    #[test]
    fn tolerance_factors_rise_with_content_and_confidence(
        n in 3_usize..200,
        content in 0.5_f64..0.999,
        confidence in 0.5_f64..0.99,
    ) {
        use statistics::tolerance_limits::one_sided_normal_factor as factor;
        let k = factor(n, content, confidence).unwrap();
        prop_assert!(factor(n, content + 5e-4, confidence).unwrap() > k);
        prop_assert!(factor(n, content, confidence + 5e-3).unwrap() > k);
        prop_assert!(factor(n + 1, content, 0.95).unwrap() < factor(n, content, 0.95).unwrap());
    }
}

/// A negative noncentrality is the mirror of a positive one, far out too, and
/// is answered from the smaller tail (it once ran on for seconds).
#[test]
fn noncentral_t_far_out_is_its_mirror() {
    for nu in [1.0, 9.0, 200.0] {
        for delta in [0.3, 5.0, 120.0] {
            for p in [1e-3, 1e-9, 1e-15] {
                let below = noncentral_t::quantile(p, nu, delta);
                let above = -noncentral_t::quantile(1.0 - p, nu, -delta);
                // `1 - p` holds `p` to 1e-16 only.
                let tolerance = 1e-9 + 1e-15 / p;
                let back = noncentral_t::cumulative(above, nu, delta);
                assert!((back / p - 1.0).abs() < tolerance, "{nu} {delta} {p}: {below} {above}");
            }
        }
    }
}

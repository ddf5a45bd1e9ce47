//! Tolerance factors against 40-digit arithmetic and two programs.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use statistics::tolerance_limits::{
    howe_factor, nonparametric, nonparametric_sample_size, one_sided_normal_factor,
    one_sided_normal_factor_excluding, two_sided_normal_factor,
};

#[test]
fn factors_agree_with_forty_digits() {
    for row in evidence::rows("statistics_noncentral_t.csv") {
        let (n, confidence) = (row.number("n") as usize, row.number("confidence"));
        let factor = if row.inputs.contains_key("excluded") {
            one_sided_normal_factor_excluding(n, row.number("excluded"), confidence)
        } else {
            one_sided_normal_factor(n, row.number("content"), confidence)
        };
        row.check(factor.unwrap());
    }
}

/// `tol_k1_n30_P0.99_g0.95` and `np_onesided_n_P0.9_g0.95_m1`.
fn part(id: &str, letter: char) -> f64 {
    let piece = id.split('_').find(|p| p.starts_with(letter) && p[1..].parse::<f64>().is_ok());
    piece.unwrap_or_else(|| panic!("{letter} in {id}"))[1..].parse().unwrap()
}

#[test]
fn values_of_the_method_notes() {
    for row in evidence::rows("statistics_tolerance.csv") {
        let id = row.quantity.as_str();
        let (content, confidence) = (part(id, 'P'), part(id, 'g'));
        let computed = if id.starts_with("tol_k1") {
            one_sided_normal_factor(part(id, 'n') as usize, content, confidence).unwrap()
        } else if id.starts_with("tol_k2_howe") {
            howe_factor(part(id, 'n') as usize, content, confidence).unwrap()
        } else if id.starts_with("tol_k2") {
            two_sided_normal_factor(part(id, 'n') as usize, content, confidence).unwrap()
        } else if id.starts_with("np_twosided") {
            nonparametric::two_sided_sample_size(content, confidence).unwrap() as f64
        } else {
            let rank = part(id, 'm') as u64;
            if rank == 1 {
                assert_eq!(nonparametric_sample_size(content, confidence) as f64, row.value);
            }
            nonparametric::sample_size_for_rank(rank, content, confidence).unwrap() as f64
        };
        row.check(computed);
    }
}

#[test]
fn the_handbook_approximation_is_not_reproduced() {
    // NIST/SEMATECH e-Handbook 7.2.6.3 prints 1.8752 for n 43, content 0.90,
    // confidence 0.99; that is an approximation. An exact factor must differ.
    let exact = one_sided_normal_factor(43, 0.90, 0.99).unwrap();
    assert!((exact - 1.8752).abs() > 1e-3);
}

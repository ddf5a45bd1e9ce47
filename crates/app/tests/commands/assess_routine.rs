//! `assess routine` against the NIST/SEMATECH e-Handbook, chapter 6.3, and
//! against planted faults.

use super::assess_reference::{check, run, table};
use super::number;

const FILE: &str = "statistics_control_charts.csv";

/// Writes one column into a file of its own.
fn column(values: &[f64]) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    let lines: String = values.iter().map(|value| format!("{value}\n")).collect();
    std::fs::write(file.path(), format!("x\n{lines}")).unwrap();
    file
}

fn numbers(path: &str) -> Vec<f64> {
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().filter_map(|line| line.trim().parse().ok()).collect()
}

#[test]
fn weighted_moving_average_of_the_handbook() {
    let Some(path) = table("nist_ewma.csv") else { return };
    let answer = run(&format!(
        "assess routine {path} --column x --chart ewma --target 50 --sd 2.0539 --lambda 0.3"
    ));
    check(FILE, "nist_ewma_UCL", number(&answer, "/upper"));
    check(FILE, "nist_ewma_LCL", number(&answer, "/lower"));
    check(FILE, "nist_ewma_10", number(&answer, "/plotted/9"));
    check(FILE, "nist_ewma_last", number(&answer, "/plotted/19"));
    assert_eq!(answer["signals"].as_array().unwrap().len(), 0);
}

#[test]
fn individuals_of_the_handbook() {
    let Some(path) = table("nist_ewma.csv") else { return };
    let file = column(&numbers(&path)[10..]);
    let answer = run(&format!("assess routine {} --column x", file.path().display()));
    check(FILE, "nist_imr_mean", number(&answer, "/center"));
    check(FILE, "nist_imr_mr", number(&answer, "/spread/center"));
    // The handbook divides by 1.128, the rounded mean range of two values.
    let printed = |limit: f64| {
        let center = number(&answer, "/center");
        center + (limit - center) * std::f64::consts::FRAC_2_SQRT_PI / 1.128
    };
    check(FILE, "nist_imr_ucl", printed(number(&answer, "/upper")));
    check(FILE, "nist_imr_lcl", printed(number(&answer, "/lower")));
}

#[test]
fn cumulative_sums_of_the_handbook() {
    let Some(path) = table("nist_cusum.csv") else { return };
    let answer = run(&format!(
        "assess routine {path} --column x --chart cusum --target 325 --sd 1 --allowance 0.3175 \
         --decision 4.1959"
    ));
    check(FILE, "nist_cusum_shi_20", number(&answer, "/sums/high/19"));
    check(FILE, "nist_cusum_first_signal", number(&answer, "/signals/0/position"));
}

#[test]
fn run_lengths_of_other_programs() {
    let line = "assess routine examples/routine_control.csv --column reading_pa --target 30 --sd 1";
    let answer = run(&format!("{line} --chart cusum --allowance 0.5 --decision 4"));
    check(FILE, "arl_cusum_k.5_h4_0", number(&answer, "/run_lengths/0/values"));
    check(FILE, "arl_cusum_k.5_h4_1", number(&answer, "/run_lengths/2/values"));
    let answer = run(&format!("{line} --chart ewma --lambda 0.1 --width 2.814"));
    check(FILE, "arl_ewma_.1_2.814_0", number(&answer, "/run_lengths/0/values"));
    check(FILE, "arl_ewma_.1_2.814_1", number(&answer, "/run_lengths/2/values"));
    let answer = run(line);
    check(FILE, "arl_shewhart3", number(&answer, "/run_lengths/0/values"));
    // The four classical rules together: 91.75 (C. W. Champ and W. H. Woodall,
    // Technometrics 29 (1987) 393, from memory); 1000 simulated records.
    let answer =
        run(&format!("{line} --rules beyond-limits,two-of-three,four-of-five,eight-on-one-side"));
    let length = number(&answer, "/run_lengths/0/values");
    assert!((length - 91.75).abs() < 10.0, "{length}");
}

/// A step planted after day 31 is found where it is, and the right sigma is
/// that between days: within days alone the chart alarms in its first phase.
#[test]
fn a_planted_step_and_the_right_sigma() {
    let line = "assess routine examples/routine_control.csv --column reading_pa --sample day \
                --first-phase 25 --chart means";
    let between = run(&format!("{line} --sigma between"));
    let place = number(&between, "/change_point/position");
    assert!((30.0..=33.0).contains(&place), "{place}");
    let early = |answer: &serde_json::Value| {
        let list = answer["signals"].as_array().unwrap().clone();
        list.iter().filter(|signal| signal["position"].as_u64().unwrap() <= 25).count()
    };
    assert_eq!(early(&between), 0);
    let within = run(line);
    assert!(number(&within, "/sigma") < 0.7 * number(&between, "/sigma"));
    assert!(early(&within) > 0);
    let codes: Vec<&str> =
        within["notes"].as_array().unwrap().iter().filter_map(|n| n["code"].as_str()).collect();
    assert!(codes.contains(&"between-sample-scatter"), "{codes:?}");
}

/// Capability by hand: mean 16, sd 2, limits 8 and 20 give cp 1 and cpk 2/3
/// (NIST/SEMATECH e-Handbook 6.1.6); 50 values are made to have just these.
#[test]
fn capability_of_the_handbook() {
    let half = 2.0 * (49.0_f64 / 50.0).sqrt();
    let values: Vec<f64> = (0..50).map(|i| 16.0 + if i % 2 == 0 { half } else { -half }).collect();
    let file = column(&values);
    let answer = run(&format!(
        "assess routine {} --column x --lower-specification 8 --upper-specification 20",
        file.path().display()
    ));
    check(FILE, "cp_nist", number(&answer, "/capability/cp"));
    check(FILE, "cpk_nist", number(&answer, "/capability/cpk"));
    check(FILE, "cp_ci_lo_n50", number(&answer, "/capability/cp_lower"));
    check(FILE, "cp_ci_hi_n50", number(&answer, "/capability/cp_upper"));
}

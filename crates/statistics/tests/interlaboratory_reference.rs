//! E691 glucose example against two programs.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::distributions::{f, student_t};
use statistics::interlaboratory::{Precision, from_values};

fn material(columns: &std::collections::BTreeMap<String, Vec<String>>, name: &str) -> Precision {
    let values = numbers(columns, "Glucose");
    let mut groups: Vec<(String, Vec<f64>)> = Vec::new();
    for (i, value) in values.iter().enumerate() {
        if columns["Material"][i] != name {
            continue;
        }
        let laboratory = &columns["Laboratory"][i];
        match groups.iter_mut().find(|(label, _)| label == laboratory) {
            Some((_, list)) => list.push(*value),
            None => groups.push((laboratory.clone(), vec![*value])),
        }
    }
    from_values(&groups).unwrap()
}

#[test]
fn values_of_the_method_notes() {
    let Some(columns) = data("e691_glucose") else { return };
    for row in rows("statistics_interlaboratory.csv") {
        let parts: Vec<&str> = row.quantity.split('_').collect();
        let computed = match parts[1] {
            "hcrit" => {
                // Critical h of 8 laboratories at 0.5 %, two-sided.
                let t = student_t::quantile(1.0 - 0.0025, 6.0);
                7.0 * t / (8.0 * (t * t + 6.0)).sqrt()
            }
            "kcrit" => {
                let ratio = f::upper_quantile(0.005, 2.0, 14.0);
                (8.0 / (1.0 + 7.0 / ratio)).sqrt()
            }
            name => {
                let result = material(&columns, name);
                match parts[2] {
                    "mean" => result.grand_mean,
                    "sx" => result.sd_of_averages,
                    "sr" => result.repeatability_sd,
                    "sR" => result.reproducibility_sd,
                    "r" => result.r_limit,
                    "R" => result.reproducibility_limit,
                    "hmax" => result.h.iter().fold(0.0, |m, h| f64::max(m, h.abs())),
                    "kmax" => result.k.iter().fold(0.0, |m, k| f64::max(m, *k)),
                    other => panic!("{other} is not computed by this test"),
                }
            }
        };
        row.check(computed);
    }
}

#[test]
fn too_even_averages_are_reported() {
    let Some(columns) = data("e691_glucose") else { return };
    // Materials A and B: the estimate between laboratories is negative.
    for name in ["A", "B"] {
        let result = material(&columns, name);
        assert_eq!(result.reproducibility_sd, result.repeatability_sd);
        assert!(result.notes.iter().any(|n| n.code == "negative-between-laboratory-variance"));
    }
}

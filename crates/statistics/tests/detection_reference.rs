//! Hit/miss fits against two programs and printed examples.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows};
use statistics::detection::logistic::{Estimation, LogisticRow, logistic};
use statistics::detection::signal_response::{Signal, censored_line};
use statistics::detection::{HitMiss, HitMissFit, Link, Separation, fit_hit_miss};

fn link(word: &str) -> Link {
    match word {
        "logit" => Link::Logit,
        "probit" => Link::Probit,
        "cloglog" => Link::Cloglog,
        other => panic!("{other}"),
    }
}

fn beetles(word: &str) -> Option<HitMissFit> {
    let columns = data("beetles_bliss1935")?;
    let (dose, n, killed) =
        (numbers(&columns, "logdose"), numbers(&columns, "n"), numbers(&columns, "killed"));
    let rows: Vec<HitMiss> = dose
        .iter()
        .zip(n.iter().zip(&killed))
        .map(|(size, (n, k))| HitMiss { size: *size, hits: *k as u64, of: *n as u64 })
        .collect();
    Some(fit_hit_miss(&rows, link(word), false, 0.95).unwrap())
}

fn hit_miss(word: &str) -> Option<HitMissFit> {
    let columns = data("synthetic_hit_miss")?;
    let rows: Vec<HitMiss> = numbers(&columns, "size")
        .iter()
        .zip(numbers(&columns, "hit"))
        .map(|(size, hit)| HitMiss { size: *size, hits: hit as u64, of: 1 })
        .collect();
    Some(fit_hit_miss(&rows, link(word), true, 0.95).unwrap())
}

#[test]
fn values_of_the_method_notes() {
    for row in rows("statistics_detection.csv") {
        let parts: Vec<&str> = row.quantity.split('_').collect();
        let other = match parts[0] {
            "budworm" => Some(budworm(&row.quantity)),
            "endo" => Some(endometrial(parts[2])),
            "sep" => Some(separated(parts[2])),
            "tobin" => Some(tobin(parts[1])),
            "ahat" => Some(signals(&row.quantity)),
            _ => None,
        };
        if let Some(value) = other {
            let Some(value) = value else { return };
            row.check(value);
            continue;
        }
        let fit = match parts[0] {
            "beetle" => beetles(parts[1]),
            "hm" => hit_miss(parts[1]),
            _ => panic!("{} is not computed by this test", row.quantity),
        };
        let Some(fit) = fit else { return };
        let computed = match parts[2..] {
            ["b0"] => fit.intercept,
            ["b1"] => fit.slope,
            ["se1"] => fit.standard_errors.map(|s| s.1),
            ["dev"] => {
                // The notes print -2 ln L, which is the deviance of single
                // trials; grouped sizes are compared with their own share.
                if parts[0] == "hm" { fit.log_likelihood.map(|l| -2.0 * l) } else { fit.deviance }
            }
            ["a50"] => fit.a50,
            ["a90"] => fit.a90,
            ["a90", "95wald"] => fit.a90_95_wald,
            ["a90", "95lr"] => fit.a90_95,
            ["a50", "95wald"] => fit.upper_bound_wald(0.5),
            ["a50", "95lr"] => fit.upper_bound(0.5),
            _ => panic!("{} is not computed by this test", row.quantity),
        };
        row.check(computed.unwrap());
    }
}

#[test]
fn separated_data_give_no_curve() {
    let Some(columns) = data("synthetic_complete_separation") else { return };
    let rows: Vec<HitMiss> = numbers(&columns, "size")
        .iter()
        .zip(numbers(&columns, "detected"))
        .map(|(size, hit)| HitMiss { size: *size, hits: hit as u64, of: 1 })
        .collect();
    let fit = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
    assert_eq!(fit.separation, Separation::Complete);
    assert_eq!(fit.bracket, Some((4.0, 5.0)));
    assert!(fit.a90_95.is_none());
}

#[test]
fn one_shared_level_is_quasi_complete() {
    let Some(columns) = evidence::table("data/statistics/detectseparation__silvapulle1981.csv")
    else {
        return;
    };
    let rows: Vec<HitMiss> = numbers(&columns, "ghqs")
        .iter()
        .zip(numbers(&columns, "y"))
        .map(|(size, hit)| HitMiss { size: *size, hits: hit as u64, of: 1 })
        .collect();
    let fit = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
    assert_eq!(fit.separation, Separation::Quasi);
}

#[test]
fn a_zero_dose_is_neither_dropped_nor_fatal() {
    let Some(columns) = evidence::table("data/statistics/drc__finney71.csv") else { return };
    let (dose, total, affected) =
        (numbers(&columns, "dose"), numbers(&columns, "total"), numbers(&columns, "affected"));
    let rows: Vec<HitMiss> = dose
        .iter()
        .zip(total.iter().zip(&affected))
        .map(|(size, (n, k))| HitMiss { size: *size, hits: *k as u64, of: *n as u64 })
        .collect();
    // Reference values of the data notes (R, log10 dose): -4.886912, 7.146178,
    // deviance 1.42406; probit -2.887463, 4.213197, 1.73897.
    let ln_10 = digits::scalar::ln(10.0);
    for (word, intercept, slope, deviance) in
        [("logit", -4.886_912, 7.146_178, 1.424_06), ("probit", -2.887_463, 4.213_197, 1.738_97)]
    {
        let fit = fit_hit_miss(&rows, link(word), true, 0.95).unwrap();
        assert!((fit.intercept.unwrap() - intercept).abs() < 5e-6);
        assert!((fit.slope.unwrap() * ln_10 - slope).abs() < 5e-6);
        assert!((fit.deviance.unwrap() - deviance).abs() < 5e-5);
        assert_eq!(fit.blank_units, 49);
    }
}

#[test]
fn an_extrapolated_size_is_flagged() {
    let Some(columns) = evidence::table("data/statistics/drc__H.virescens.csv") else { return };
    let (dose, total, dead) =
        (numbers(&columns, "dose"), numbers(&columns, "total"), numbers(&columns, "numdead"));
    let rows: Vec<HitMiss> = (0..dose.len())
        .filter(|i| columns["sex"][*i] == "F")
        .map(|i| HitMiss { size: dose[i], hits: dead[i] as u64, of: total[i] as u64 })
        .collect();
    let fit = fit_hit_miss(&rows, Link::Logit, true, 0.95).unwrap();
    // Data notes: 90 % dose 53.0431, beyond the tested 32.
    assert!((fit.a90.unwrap() - 53.0431).abs() < 5e-4);
    assert!(fit.notes.iter().any(|n| n.code == "extrapolated"));
}

#[test]
fn a_curve_that_does_not_fit_says_so() {
    let Some(columns) = evidence::table("data/statistics/drc__deguelin.csv") else { return };
    let (dose, n, r) =
        (numbers(&columns, "log10dose"), numbers(&columns, "n"), numbers(&columns, "r"));
    let rows: Vec<HitMiss> = (0..dose.len())
        .map(|i| HitMiss { size: dose[i], hits: r[i] as u64, of: n[i] as u64 })
        .collect();
    let fit = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
    // Data notes: -4.450937, 4.460233, deviance 15.4123 on 4 degrees.
    assert!((fit.intercept.unwrap() + 4.450_937).abs() < 5e-6);
    assert!((fit.slope.unwrap() - 4.460_233).abs() < 5e-6);
    assert!((fit.deviance.unwrap() - 15.4123).abs() < 5e-5);
    assert!(fit.notes.iter().any(|note| note.code == "lack-of-fit"));
}

fn budworm(id: &str) -> Option<f64> {
    let columns = data("budworm")?;
    let (dose, dead, n) =
        (numbers(&columns, "ldose"), numbers(&columns, "numdead"), numbers(&columns, "n"));
    let rows: Vec<LogisticRow> = (0..dose.len())
        .map(|i| {
            let female = f64::from(u8::from(columns["sex"][i] == "F"));
            LogisticRow {
                hits: dead[i] as u64,
                of: n[i] as u64,
                columns: vec![female, 1.0 - female, dose[i]],
            }
        })
        .collect();
    let fit = logistic(&rows, Estimation::MaximumLikelihood).unwrap();
    let b = &fit.coefficients;
    let place = |p: f64| (digits::scalar::ln(p / (1.0 - p)) - b[0]) / b[2];
    Some(match id {
        "budworm_dev" => fit.deviance,
        "budworm_F_ld25" => place(0.25),
        "budworm_F_ld50" => place(0.5),
        "budworm_F_ld75" => place(0.75),
        "budworm_F_ld50_se" => {
            let g = [-1.0 / b[2], 0.0, -place(0.5) / b[2]];
            let mut variance = 0.0;
            for (i, gi) in g.iter().enumerate() {
                for (j, gj) in g.iter().enumerate() {
                    variance += gi * gj * fit.covariance[i][j];
                }
            }
            variance.sqrt()
        }
        other => panic!("{other}"),
    })
}

fn endometrial(what: &str) -> Option<f64> {
    let columns = data("endometrial")?;
    let variables: Vec<Vec<f64>> =
        ["NV", "PI", "EH"].iter().map(|c| numbers(&columns, c)).collect();
    let rows: Vec<LogisticRow> = numbers(&columns, "HG")
        .iter()
        .enumerate()
        .map(|(i, y)| LogisticRow {
            hits: *y as u64,
            of: 1,
            columns: vec![1.0, variables[0][i], variables[1][i], variables[2][i]],
        })
        .collect();
    assert!(logistic(&rows, Estimation::MaximumLikelihood).is_err());
    let fit = logistic(&rows, Estimation::Firth).unwrap();
    assert_eq!(fit.separation, Separation::Quasi);
    let index: usize = what[what.len() - 1..].parse().unwrap();
    Some(if what.starts_with("se") { fit.standard_errors[index] } else { fit.coefficients[index] })
}

fn separated(what: &str) -> Option<f64> {
    let columns = data("synthetic_complete_separation")?;
    let rows: Vec<HitMiss> = numbers(&columns, "size")
        .iter()
        .zip(numbers(&columns, "detected"))
        .map(|(size, hit)| HitMiss { size: *size, hits: hit as u64, of: 1 })
        .collect();
    let fit = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap().penalised.unwrap();
    Some(if what == "b0" { fit.intercept } else { fit.slope })
}

fn tobin(what: &str) -> Option<f64> {
    let columns = data("tobin")?;
    let (y, age, quant) =
        (numbers(&columns, "durable"), numbers(&columns, "age"), numbers(&columns, "quant"));
    let x: Vec<Vec<f64>> = (0..y.len()).map(|i| vec![1.0, age[i], quant[i]]).collect();
    let signals: Vec<Signal> =
        y.iter().map(|v| if *v <= 0.0 { Signal::Below(0.0) } else { Signal::Read(*v) }).collect();
    let fit = censored_line(&x, &signals, None).unwrap();
    Some(match what {
        "scale" => fit.standard_deviation,
        "loglik" => fit.log_likelihood,
        coefficient => fit.coefficients[coefficient[1..].parse::<usize>().unwrap()],
    })
}

fn signals(id: &str) -> Option<f64> {
    let columns = data("synthetic_ahat_a_censored")?;
    let (a, signal, left) =
        (numbers(&columns, "a"), numbers(&columns, "signal"), numbers(&columns, "left_censored"));
    let x: Vec<Vec<f64>> = a.iter().map(|a| vec![1.0, digits::scalar::ln(*a)]).collect();
    let signals: Vec<Signal> = signal
        .iter()
        .zip(&left)
        .map(|(s, l)| {
            let y = digits::scalar::ln(*s);
            if *l == 1.0 { Signal::Below(y) } else { Signal::Read(y) }
        })
        .collect();
    let fit = censored_line(&x, &signals, None).unwrap();
    let threshold = digits::scalar::ln(4.0);
    let place = |p: f64| fit.place_detected(threshold, p, 0.95).unwrap();
    Some(match id {
        "ahat_b0" => fit.coefficients[0],
        "ahat_b1" => fit.coefficients[1],
        "ahat_scale" => fit.standard_deviation,
        "ahat_a50" => digits::scalar::exp(place(0.5).0),
        "ahat_a90" => digits::scalar::exp(place(0.9).0),
        "ahat_a90_95wald" => digits::scalar::exp(place(0.9).1),
        other => panic!("{other}"),
    })
}

//! `assess uncertainty`, `stability` and `volume` against JCGM 100, JCGM 101
//! and NIST SP 1065, and by hand.

use super::assess_reference::{check, run, table};
use super::{json, number};

const FILE: &str = "statistics_uncertainty.csv";

fn budget(text: &str, more: &[&str]) -> serde_json::Value {
    let file = tempfile::Builder::new().suffix(".toml").tempfile().unwrap();
    std::fs::write(file.path(), text).unwrap();
    let mut words = vec!["assess", "uncertainty", file.path().to_str().unwrap()];
    words.extend(more);
    json(&words)
}

/// JCGM 100, H.1: an end gauge, millimetres.
#[test]
fn end_gauge() {
    let answer = budget(
        "model = \"ls + d - ls * (da * theta + alpha * dt)\"\n\
         coverage = 0.99\ndraws = 20000\n\
         [input.ls]\nvalue = 50.000623\nuncertainty = 25e-6\ndegrees_of_freedom = 18\n\
         [input.d]\nvalue = 215e-6\nuncertainty = 9.7e-6\ndegrees_of_freedom = 25.6\n\
         [input.alpha]\nvalue = 11.5e-6\nuncertainty = 1.2e-6\n\
         [input.theta]\nvalue = -0.1\nuncertainty = 0.41\n\
         [input.da]\nvalue = 0\nuncertainty = 0.58e-6\ndegrees_of_freedom = 50\n\
         [input.dt]\nvalue = 0\nuncertainty = 0.029\ndegrees_of_freedom = 2\n",
        &[],
    );
    check(FILE, "gum_h1_l", number(&answer, "/value"));
    check(FILE, "gum_h1_u_nm", number(&answer, "/uncertainty") * 1e6);
    check(FILE, "gum_h1_dof", number(&answer, "/degrees_of_freedom"));
    check(FILE, "gum_h1_U99_nm", number(&answer, "/expanded") * 1e6);
}

/// JCGM 100, H.2: an impedance from correlated means.
#[test]
fn correlated_means() {
    let Some(path) = table("gum_h2.csv") else { return };
    let text = std::fs::read_to_string(path).unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let n = rows.len() as f64;
    let mean = |j: usize| rows.iter().map(|row| row[j]).sum::<f64>() / n;
    let product = |i: usize, j: usize| {
        rows.iter().map(|row| (row[i] - mean(i)) * (row[j] - mean(j))).sum::<f64>() / (n - 1.0) / n
    };
    let mut text = String::new();
    for (j, name) in ["v", "i", "phi"].iter().enumerate() {
        let u = product(j, j).sqrt();
        text.push_str(&format!("[input.{name}]\nvalue = {:?}\nuncertainty = {u:?}\n", mean(j)));
    }
    for (i, j, pair) in [(0, 1, "\"v\", \"i\""), (0, 2, "\"v\", \"phi\""), (1, 2, "\"i\", \"phi\"")]
    {
        let r = product(i, j) / (product(i, i) * product(j, j)).sqrt();
        text.push_str(&format!("[[correlation]]\nbetween = [{pair}]\ncoefficient = {r:?}\n"));
    }
    for (model, value, uncertainty) in [
        ("1000 * v / i * cos(phi)", "gum_h2_R", "gum_h2_uR"),
        ("1000 * v / i * sin(phi)", "gum_h2_X", "gum_h2_uX"),
        ("1000 * v / i", "gum_h2_Z", "gum_h2_uZ"),
    ] {
        let answer = budget(&format!("model = \"{model}\"\n{text}"), &[]);
        check(FILE, value, number(&answer, "/value"));
        check(FILE, uncertainty, number(&answer, "/uncertainty"));
        // The model is nearly straight, so the simulation meets the same figures.
        let off = number(&answer, "/simulated/uncertainty") / number(&answer, "/uncertainty") - 1.0;
        assert!(off.abs() < 0.01, "{model}: {off}");
        let off = number(&answer, "/simulated/mean") - number(&answer, "/value");
        assert!(off.abs() < 0.02 * number(&answer, "/uncertainty"), "{model}: {off}");
    }
}

/// Correlations that no inputs have are named; inputs that move as one keep
/// their law of propagation.
#[test]
fn impossible_correlations() {
    let inputs = "model = \"a + b + c\"\n[input.a]\nvalue = 1\nuncertainty = 0.1\n\
                  [input.b]\nvalue = 1\nuncertainty = 0.1\n\
                  [input.c]\nvalue = 1\nuncertainty = 0.1\n";
    let pair =
        |pair: &str, r: f64| format!("[[correlation]]\nbetween = [{pair}]\ncoefficient = {r:?}\n");
    let (ab, ac, bc) = ("\"a\", \"b\"", "\"a\", \"c\"", "\"b\", \"c\"");
    let text = format!("{inputs}{}{}{}", pair(ab, 0.9), pair(ac, 0.2), pair(bc, -0.5));
    let scratch = tempfile::tempdir().unwrap();
    let file = scratch.path().join("impossible.toml");
    std::fs::write(&file, text).unwrap();
    let (code, told) = super::fault(&["assess", "uncertainty", file.to_str().unwrap()]);
    assert!(code == 2 && told.contains("that of b and c is -0.5"), "{code} {told}");
    let answer = budget(&format!("{inputs}{}", pair(ab, 1.0)), &[]);
    assert!(answer["simulated"].is_null());
    assert!((number(&answer, "/uncertainty") - 0.05_f64.sqrt()).abs() < 1e-9);
}

/// JCGM 101, 9.3: a mass, where the law of propagation is too small.
#[test]
fn mass_calibration() {
    let answer = budget(
        "model = \"(mr + dm) * (1 + (air - 1.2) * (1 / rw - 1 / rr)) - 1e5\"\ndraws = 400000\n\
         [input.mr]\nvalue = 1e5\nuncertainty = 0.05\n\
         [input.dm]\nvalue = 1.234\nuncertainty = 0.02\n\
         [input.air]\nvalue = 1.2\nhalf_width = 0.1\ndistribution = \"rectangular\"\n\
         [input.rw]\nvalue = 8000\nhalf_width = 1000\ndistribution = \"rectangular\"\n\
         [input.rr]\nvalue = 8000\nhalf_width = 50\ndistribution = \"rectangular\"\n",
        &[],
    );
    check(FILE, "jcgm101_93_guf_u", number(&answer, "/uncertainty"));
    check(FILE, "jcgm101_93_mc_y", number(&answer, "/simulated/mean"));
    check(FILE, "jcgm101_93_mc_u", number(&answer, "/simulated/uncertainty"));
    check(FILE, "jcgm101_93_mc_short_lo", number(&answer, "/simulated/shortest_lower"));
    check(FILE, "jcgm101_93_mc_short_hi", number(&answer, "/simulated/shortest_upper"));
    assert_eq!(answer["agree"], false);
}

/// NIST SP 1065, section 12: nine readings.
#[test]
fn allan_deviation() {
    let Some(path) = table("nbs14_9freq.csv") else { return };
    for (kind, row) in [
        ("plain", "adev"),
        ("overlapping", "oadev"),
        ("modified", "mdev"),
        ("hadamard", "hdev"),
        ("total", "totdev"),
    ] {
        let answer =
            run(&format!("assess stability {path} --column f --interval 1s --kind {kind}"));
        for (place, span) in [(0, 1), (1, 2)] {
            let at = format!("/deviations/{place}/deviation");
            check(FILE, &format!("nbs14_9_{row}_{span}"), number(&answer, &at));
        }
    }
}

/// Dependent noise: the larger error is about sqrt((1 + r)/(1 - r)) times the
/// naive one (first-order autoregressive noise, long record).
#[test]
fn dependent_noise_widens_the_slope() {
    let answer =
        run("assess stability examples/quiet_record.csv --column pressure_pa --time time_s");
    let r = number(&answer, "/lag_one");
    let ratio = number(&answer, "/standard_error") / number(&answer, "/naive_standard_error");
    assert!(r > 0.5, "{r}");
    assert!((ratio / ((1.0 + r) / (1.0 - r)).sqrt() - 1.0).abs() < 0.1, "{ratio}");
    // The record wanders slowly as well, which is said.
    let notes = answer["notes"].as_array().unwrap();
    assert!(notes.iter().any(|note| note["code"] == "slow-drift-not-in-the-error"));
}

/// By hand: 1 sccm at 0 °C is 1.8124e-3 Pa m3/s at 20 °C; over 10 s and a rise
/// of 36.7 Pa that is 493.8 mL. Expansion: 50 · 66.8/34.4 mL.
#[test]
fn volumes_by_hand() {
    let answer = json(&[
        "assess",
        "volume",
        "--flow",
        "1 sccm@0C",
        "--flow-uncertainty",
        "1%",
        "--with",
        "52.1Pa",
        "--without",
        "15.4Pa",
        "--time",
        "10s",
        "--pressure-uncertainty",
        "0.5Pa",
    ]);
    let hand = 101_325.0e-6 / 60.0 * 293.15 / 273.15 * 10.0 / 36.7;
    let value = number(&answer, "/volume_m3");
    assert!((value / hand - 1.0).abs() < 1e-9, "{value} against {hand}");
    let parts: [f64; 4] = [0.01, 0.5 * 2.0_f64.sqrt() / 36.7, 1.0 / 293.15, 0.01 / 10.0];
    let share = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let half = 0.5 * (number(&answer, "/upper") - number(&answer, "/lower"));
    assert!((half / (1.96 * share * hand) - 1.0).abs() < 0.02, "{half}");
    let answer = run(
        "assess volume --reference 50mL --reference-uncertainty 0.2% --reference-pressure 101.3kPa \
         --from 0.1kPa --to 34.5kPa --pressure-uncertainty 30Pa",
    );
    let value = number(&answer, "/volume_m3") * 1e6;
    assert!((value - 50.0 * 66.8 / 34.4).abs() < 1e-6, "{value}");
}

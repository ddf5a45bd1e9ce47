//! `assess` against published and independent figures: the rows of
//! `reference/*.csv`, on the public tables of the shared folder.

use super::{json, number, root};

/// A table of the shared folder; `None` with a notice where it is absent.
pub(super) fn table(name: &str) -> Option<String> {
    let path = root().join("../shared/reference/statistics/data").join(name);
    if path.exists() {
        return Some(path.to_string_lossy().into_owned());
    }
    println!("skipped: {} is not there", path.display());
    None
}

/// Checks a value against every row of a reference file with that quantity.
pub(super) fn check(file: &str, quantity: &str, value: f64) {
    let path = root().join("reference").join(file);
    let mut reader = csv::Reader::from_path(path).unwrap();
    let mut seen = 0;
    for record in reader.records() {
        let record = record.unwrap();
        if &record[0] != quantity {
            continue;
        }
        seen += 1;
        let expected: f64 = record[2].parse().unwrap();
        let (size, kind) = record[4].split_once(' ').unwrap();
        let size: f64 = size.parse().unwrap();
        let allowed = if kind == "rel" { size * expected.abs() } else { size };
        // The reference's own digits end at fifteen.
        let allowed = allowed.max(1e-12 * expected.abs());
        assert!((value - expected).abs() <= allowed, "{quantity}: {value} against {expected}");
    }
    assert!(seen > 0, "{file} has no row {quantity}");
}

pub(super) fn run(line: &str) -> serde_json::Value {
    json(&line.split_whitespace().collect::<Vec<_>>())
}

/// ISO 16269-6 and NIST e-Handbook 7.2.6.3: tolerance factors.
#[test]
fn tolerance_factors() {
    let file = "statistics_tolerance.csv";
    for (n, content, confidence, row) in [
        (10, "0.95", "0.95", "tol_k1_n10_P0.95_g0.95"),
        (30, "0.99", "0.95", "tol_k1_n30_P0.99_g0.95"),
        (43, "0.9", "0.99", "tol_k1_n43_P0.9_g0.99"),
    ] {
        let answer = run(&format!(
            "assess limit --mean 0 --sd 1 --n {n} --content {content} --confidence {confidence}"
        ));
        check(file, row, number(&answer, "/factor"));
    }
    let answer = run(
        "assess limit --mean 0 --sd 1 --n 43 --content 0.9 --confidence 0.99 --method two-sided",
    );
    check(file, "tol_k2_n43_P0.9_g0.99", number(&answer, "/factor"));
}

/// Newcombe 1998: exact and score intervals; success-run sizes.
#[test]
fn proportions_and_sizes() {
    let file = "statistics_binomial.csv";
    for (hits, of) in [(81, 263), (15, 148), (1, 29)] {
        let answer = run(&format!("assess proportion --hits {hits} --of {of}"));
        check(file, &format!("cp_{hits}_{of}_lo"), number(&answer, "/lower"));
        check(file, &format!("cp_{hits}_{of}_hi"), number(&answer, "/upper"));
        check(file, &format!("wilson_{hits}_{of}_lo"), number(&answer, "/others/0/lower"));
        check(file, &format!("wilson_{hits}_{of}_hi"), number(&answer, "/others/0/upper"));
    }
    // Success runs at 95 %, 0 to 3 failures (common tables): 59, 93, 124, 153.
    let answer = run("assess proportion --reliability 0.95 --failures 3");
    let sizes: Vec<u64> =
        answer["sizes"].as_array().unwrap().iter().map(|row| row["n"].as_u64().unwrap()).collect();
    assert_eq!(sizes[..4], [59, 93, 124, 153]);
}

/// Bliss 1935 with three links, and invented hits and misses fitted by two
/// other programs.
#[test]
fn hit_and_miss_curves() {
    let file = "statistics_detection.csv";
    if let Some(path) = table("beetles_bliss1935.csv") {
        for link in ["logit", "probit", "cloglog"] {
            let answer = run(&format!(
                "assess detection {path} --size logdose --hit killed --of n --scale linear --link \
                 {link} --samples 50"
            ));
            check(file, &format!("beetle_{link}_b1"), number(&answer, "/slope"));
            check(file, &format!("beetle_{link}_dev"), number(&answer, "/deviance"));
        }
    }
    if let Some(path) = table("synthetic_hit_miss.csv") {
        for link in ["logit", "probit", "cloglog"] {
            let answer = run(&format!(
                "assess detection {path} --size size --hit hit --link {link} --samples 400"
            ));
            check(file, &format!("hm_{link}_a50"), number(&answer, "/a50"));
            check(file, &format!("hm_{link}_a90"), number(&answer, "/a90"));
            check(file, &format!("hm_{link}_a90_95wald"), number(&answer, "/a90_95_wald"));
            check(file, &format!("hm_{link}_a90_95lr"), number(&answer, "/a90_95_profile"));
            // The bound that is claimed is the wider one in so small a sample.
            assert!(number(&answer, "/a90_95") > number(&answer, "/a90_95_profile"));
        }
    }
}

/// Separated data: a bracket and a labelled penalised curve, never a silent
/// number.
#[test]
fn separated_data_have_no_curve() {
    let Some(path) = table("synthetic_complete_separation.csv") else { return };
    let answer = run(&format!(
        "assess detection {path} --size size --hit detected --scale linear --samples 200"
    ));
    assert_eq!(answer["separation"], "complete");
    assert!(answer["slope"].is_null() && answer["a90"].is_null());
    check("statistics_detection.csv", "sep_firth_b0", number(&answer, "/penalised/intercept"));
    check("statistics_detection.csv", "sep_firth_b1", number(&answer, "/penalised/slope"));
}

/// Readings with a noise floor, fitted by two other programs.
#[test]
fn censored_readings() {
    let Some(path) = table("synthetic_ahat_a_censored.csv") else { return };
    let answer =
        run(&format!("assess detection {path} --size a --reading signal --threshold 4 --floor 2"));
    let file = "statistics_detection.csv";
    check(file, "ahat_b0", number(&answer, "/intercept"));
    check(file, "ahat_b1", number(&answer, "/slope"));
    check(file, "ahat_a50", number(&answer, "/a50"));
    check(file, "ahat_a90", number(&answer, "/a90"));
    check(file, "ahat_a90_95wald", number(&answer, "/a90_95_wald"));
}

/// Racine 1986 with the stated normal prior, on another grid.
#[test]
fn bayesian_curve() {
    let Some(path) = table("bioassay_racine1986.csv") else { return };
    let answer = run(&format!(
        "assess detection {path} --size x --hit y --of n --scale linear --prior-intercept 0,2 \
         --prior-slope 10,10 --prior-correlation 0.5 --samples 50"
    ));
    // The grid of the reference ends elsewhere, which shows in the sixth digit.
    for (row, at) in [("bio_postN_ma", "intercept_mean"), ("bio_postN_mb", "slope_mean")] {
        let value = number(&answer, &format!("/bayesian/{at}"));
        let expected = if row == "bio_postN_ma" { 0.977_307_132 } else { 10.478_893_3 };
        assert!((value / expected - 1.0).abs() < 1e-4, "{row}: {value}");
    }
}

/// DIN 32645 and Massart 1997: calibration, inverse, limits, lack of fit.
#[test]
fn calibrations() {
    let file = "statistics_calibration.csv";
    if let Some(path) = table("din32645.csv") {
        let answer = run(&format!("assess flow {path} --flow x --reading y --invert 3500"));
        for (row, at) in [
            ("din_b0", "/intercept"),
            ("din_b1", "/slope"),
            ("din_sy", "/residual_sd"),
            ("din_iso_xC_a05", "/critical_value"),
            ("din_iso_xD_a05b05", "/detection_limit"),
            ("din_ich_lod_33", "/conventional_detection_limit"),
            ("din_ich_loq_10", "/conventional_quantitation_limit"),
            ("din_fieller95_3500_lo", "/inverse/lower"),
            ("din_fieller95_3500_hi", "/inverse/upper"),
        ] {
            check(file, row, number(&answer, at));
        }
        let answer = run(&format!("assess flow {path} --flow x --reading y --confidence 0.99"));
        check(file, "din_xcrit_a01", number(&answer, "/critical_value"));
        check(file, "din_loq_k3_a01", number(&answer, "/quantitation_limit"));
    }
    if let Some(path) = table("massart97ex3.csv") {
        let answer = run(&format!(
            "assess flow {path} --flow x --reading y --variance-model level --invert 15"
        ));
        check(file, "mas3_lof_F", number(&answer, "/lack_of_fit/f"));
        // Printed in the book: 5.9, from means and rounded weights.
        assert!((number(&answer, "/inverse/estimate") - 5.9).abs() < 0.05);
        assert!(answer["detection_limit"].is_null(), "weights give no limit at zero");
    }
}

/// York 2004 on Pearson's data with the uncertainties of both axes.
#[test]
fn uncertainty_on_both_axes() {
    let Some(path) = table("pearson_york.csv") else { return };
    let text = std::fs::read_to_string(&path).unwrap();
    // The file carries weights; the command takes standard uncertainties.
    let scratch = tempfile::NamedTempFile::new().unwrap();
    let mut out = String::from("x,y,ux,uy\n");
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let (ux, uy) = (1.0 / cells[2].sqrt(), 1.0 / cells[3].sqrt());
        out.push_str(&format!("{},{},{ux},{uy}\n", cells[0], cells[1]));
    }
    std::fs::write(scratch.path(), out).unwrap();
    let answer = run(&format!(
        "assess flow {} --flow x --reading y --flow-uncertainty ux --reading-uncertainty uy",
        scratch.path().display()
    ));
    check("statistics_agreement.csv", "york_b0", number(&answer, "/intercept"));
    check("statistics_agreement.csv", "york_b1", number(&answer, "/slope"));
}

/// AIAG gauge study, nested pastes, and the interlaboratory glucose study.
#[test]
fn precision() {
    let file = "statistics_variance_components.csv";
    if let Some(path) = table("aiag_msa_grr.csv") {
        let line = format!("assess precision {path} --part part --operator appraiser --reading");
        let answer = run(&format!("{line} value --pool-interaction"));
        check(file, "aiag_anova_GRR", number(&answer, "/gauge_sd"));
        check(file, "aiag_anova_TV", number(&answer, "/total_sd"));
        check(file, "aiag_anova_pctGRR", number(&answer, "/percent_of_total_variation"));
        let answer = run(&format!("{line} value"));
        check(file, "bbm_gauge_var_raw", number(&answer, "/gauge_variance/estimate"));
        check(file, "bbm_gauge_mls95_lo", number(&answer, "/gauge_variance/lower"));
        check(file, "bbm_gauge_mls95_hi", number(&answer, "/gauge_variance/upper"));
    }
    if let Some(path) = table("pastes.csv") {
        let answer =
            run(&format!("assess precision {path} --nested batch,cask --reading strength"));
        for (at, quantity) in [
            ("/components/inner_variance", "pastes_cask:batch"),
            ("/components/outer_variance", "pastes_batch"),
            ("/components/repeatability_variance", "pastes_Residual"),
        ] {
            check(file, quantity, number(&answer, at));
        }
    }
    if let Some(path) = table("e691_glucose.csv") {
        let answer = run(&format!(
            "assess precision {path} --laboratory Laboratory --level Material --reading Glucose"
        ));
        let file = "statistics_interlaboratory.csv";
        check(file, "e691_A_sr", number(&answer, "/levels/0/repeatability_sd"));
        check(file, "e691_A_sR", number(&answer, "/levels/0/reproducibility_sd"));
        check(file, "e691_hcrit_p8_05pct", number(&answer, "/levels/0/critical_h"));
        check(file, "e691_kcrit_p8_n3_05pct", number(&answer, "/levels/0/critical_k"));
    }
}

/// The interval of the gauge goes with the analysis that was asked for. The
/// figures: mean squares by numpy, the modified-large-sample formula (Burdick,
/// Borror and Montgomery 2005) with quantiles of scipy, on the example table.
#[test]
fn a_pooled_gauge_has_the_interval_of_the_pooled_analysis() {
    let answer = run("assess precision examples/gauge_study.csv --part part --operator operator \
         --reading reading --pool-interaction");
    for (key, want) in [
        ("estimate", 1.215_858_134_920_634),
        ("lower", 0.652_643_388_195_518),
        ("upper", 29.424_645_877_652_66),
    ] {
        let got = answer["gauge_variance"][key].as_f64().unwrap();
        assert!((got - want).abs() < 1e-9 * want, "{key}: {got}");
    }
    let gauge = answer["gauge_sd"].as_f64().unwrap();
    assert!((gauge * gauge - 1.215_858_134_920_634).abs() < 1e-12, "{gauge}");
}

//! Published and independent numbers, reproduced by the commands themselves.

use super::{json, number};

const STUDY: &str = "examples/three_site_study.csv";

fn close(value: f64, expected: f64, relative: f64, what: &str) {
    assert!((value / expected - 1.0).abs() <= relative, "{what}: {value} against {expected}");
}

/// Published three-site study: limits from the printed pooled figures,
/// worked out with noncentral t outside the project (trade note 3.2).
#[test]
fn limits_of_the_three_site_study() {
    for (content, pooled, site_one) in
        [("0.99", 24.3, 28.5), ("0.999", 27.9, 32.4), ("0.9999", 30.9, 35.6)]
    {
        let answer = json(&[
            "assess",
            "limit",
            STUDY,
            "--summary",
            "--where",
            "population=no leak",
            "--mean",
            "13",
            "--sd",
            "4.3",
            "--n",
            "135",
            "--content",
            content,
        ]);
        assert!((number(&answer, "/limit") - pooled).abs() <= 0.05, "{answer:#}");
        assert!((number(&answer, "/groups/0/limit") - site_one).abs() <= 0.05, "{answer:#}");
        let codes: Vec<&str> = answer["notes"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|note| note["code"].as_str())
            .collect();
        assert!(codes.contains(&"groups-differ"), "{codes:?}");
    }
}

/// ASTM E691 on the rows alone, and which unstated number of replicates the
/// printed figures fit (trade note 3.2 and the arithmetic of E691).
#[test]
fn precision_of_the_three_site_study() {
    let answer = json(&[
        "assess",
        "precision",
        STUDY,
        "--summary",
        "--where",
        "population=no leak",
        "--sd-of-averages",
        "3.9",
        "--repeatability-limit",
        "8.7",
        "--reproducibility-sd",
        "4.8",
    ]);
    let by = answer["levels"][0]["by_replicates"].as_array().unwrap();
    let of = |n: u64| {
        by.iter().find(|row| row["replicates"] == n).unwrap()["reproducibility_sd"]
            .as_f64()
            .unwrap()
    };
    assert!((of(3) - 4.54).abs() < 0.005, "{}", of(3));
    assert!((of(45) - 4.91).abs() < 0.005, "{}", of(45));
    assert!((number(&answer, "/reproducibility_sd") - 4.91).abs() < 0.005);
    let printed = answer["printed"].as_array().unwrap();
    let five = printed.iter().find(|row| row["replicates"] == 5).unwrap();
    assert!((five["reproducibility_sd"].as_f64().unwrap() - 4.79).abs() < 0.005);
    assert_eq!(five["fits_printed"], true);
    let three = printed.iter().find(|row| row["replicates"] == 3).unwrap();
    assert_eq!(three["fits_printed"], false);
}

/// Rows coded 599 are censored and flagged; they never enter a figure.
#[test]
fn coded_rows_are_censored() {
    let answer = json(&["assess", "precision", STUDY, "--summary", "--where", "population=10 um"]);
    assert_eq!(answer["levels"][0]["groups"], 2);
    let notes = answer["notes"].to_string();
    assert!(notes.contains("ended-by-limit") && notes.contains("pooled-contaminated"), "{notes}");
}

/// Exact bounds of 45 of 45, and of 15 units with three readings each.
#[test]
fn proportion_of_the_three_site_study() {
    let answer = json(&["assess", "proportion", "--hits", "45", "--of", "45"]);
    assert!((number(&answer, "/one_sided_lower") - 0.936).abs() < 0.0005);
    let three = answer["if_readings_per_unit"]
        .as_array()
        .unwrap()
        .iter()
        .find(|row| row["readings_per_unit"] == 3)
        .unwrap();
    assert!((three["one_sided_lower"].as_f64().unwrap() - 0.819).abs() < 0.0005);
}

/// Exponents of sites 2 and 3 between 5 and 10 µm, net of no-leak.
#[test]
fn size_exponent_of_the_three_site_study() {
    let answer = json(&["assess", "size-exponent", STUDY, "--summary", "--abort-code", "599"]);
    for (group, exponent, low, high) in [(1, 1.90, 1.46, 2.44), (2, 1.80, 1.53, 2.08)] {
        let pair = &answer["groups"][group]["pairs"][0];
        assert!((pair["exponent"].as_f64().unwrap() - exponent).abs() < 0.005, "{pair:#}");
        assert!((pair["lower"].as_f64().unwrap() - low).abs() < 0.02, "{pair:#}");
        assert!((pair["upper"].as_f64().unwrap() - high).abs() < 0.02, "{pair:#}");
    }
    // Site 1 was cut off at 10 µm: a lower bound and nothing more.
    let cut = &answer["groups"][0]["pairs"][0];
    assert_eq!(cut["is_lower_bound"], true, "{cut:#}");
}

/// 40 CFR 1065.644, vacuum-decay example.
#[test]
fn rise_of_the_regulation() {
    let answer = json(&[
        "assess",
        "rise",
        "--volume",
        "2.0000L",
        "--from",
        "25.300kPa",
        "--to",
        "50.600kPa",
        "--temperature",
        "293.15K",
        "--seconds",
        "70",
    ]);
    close(number(&answer, "/molar_flow_mol_per_s"), 2.965_7e-4, 1e-4, "mol/s");
}

/// Physics note 1.8, orifice column: air 20 °C, 1 atm to 100 Pa, std cm³/s at
/// 0 °C, computed by an independent script of the same law.
#[test]
fn orifice_column() {
    for (bore, expected) in [
        ("0.1um", 9.115e-7),
        ("0.5um", 2.658e-5),
        ("1um", 1.139e-4),
        ("5um", 3.038e-3),
        ("10um", 1.221e-2),
        ("50um", 3.057e-1),
        ("100um", 1.223),
    ] {
        let answer = json(&[
            "leak",
            "--bore",
            bore,
            "--orifice",
            "--upstream",
            "1atm",
            "--downstream",
            "100Pa",
            "--temperature",
            "20C",
        ]);
        close(number(&answer, "/std_cm3_per_s_at_0c"), expected, 0.01, bore);
    }
}

/// Physics note 2: ideal nozzle at 25 and 20 °C, sharp edge, molecular efflux.
#[test]
fn four_laws_for_one_bore() {
    for (bore, at_25, at_20, sharp, molecular) in [
        ("1um", 1.4414e-4, 1.4536e-4, 1.2231e-4, 8.469e-5),
        ("10um", 1.4414e-2, 1.4536e-2, 1.2231e-2, 8.469e-3),
    ] {
        let warm = json(&["leak", "--bore", bore, "--orifice", "--temperature", "25C"]);
        close(number(&warm, "/ideal_nozzle_std_cm3_per_s_at_0c"), at_25, 5e-4, "25 °C");
        let cool = json(&["leak", "--bore", bore, "--orifice", "--temperature", "20C"]);
        close(number(&cool, "/ideal_nozzle_std_cm3_per_s_at_0c"), at_20, 5e-4, "20 °C");
        close(number(&cool, "/sharp_edged_continuum_std_cm3_per_s_at_0c"), sharp, 5e-4, "sharp");
        close(number(&cool, "/molecular_efflux_std_cm3_per_s_at_0c"), molecular, 5e-4, "efflux");
    }
}

/// Physics note 3: one sccm at five reference temperatures.
#[test]
fn one_sccm_at_its_reference_temperature() {
    for (reference, mol_per_s, throughput) in [
        ("0C", 7.435_839e-7, 1.812_400e-3),
        ("15C", 7.048_757e-7, 1.718_053e-3),
        ("20C", 6.928_533e-7, 1.688_750e-3),
        ("25C", 6.812_341e-7, 1.660_430e-3),
    ] {
        let quantity = format!("1 sccm@{reference}");
        let answer = json(&["convert", &quantity, "--to", "mol/s"]);
        close(number(&answer, "/value"), mol_per_s, 1e-5, reference);
        let answer = json(&["convert", &quantity, "--to", "Pa.m3/s@20C"]);
        close(number(&answer, "/value"), throughput, 1e-5, reference);
    }
}

/// Trade note 3.1: flow-equivalent diameter against flow, 20 °C.
#[test]
fn size_against_flow() {
    for (size, throughput, sccm) in
        [("1um", 1.58e-5, 0.0087), ("5um", 3.95e-4, 0.218), ("100um", 0.158, 87.2)]
    {
        let answer = json(&["convert", size, "--to", "Pa.m3/s@20C"]);
        close(number(&answer, "/value"), throughput, 4e-3, size);
        let answer = json(&["convert", size, "--to", "sccm@0C"]);
        close(number(&answer, "/value"), sccm, 4e-3, size);
        let back = json(&["convert", &format!("{throughput} Pa.m3/s@20C"), "--to", "um"]);
        let um: f64 = size.trim_end_matches("um").parse().unwrap();
        close(number(&back, "/value"), um, 2e-3, size);
    }
}

/// Physics note 3: helium to air is no constant.
#[test]
fn helium_needs_its_regime() {
    let ratio = |regime: &str| {
        let answer = json(&[
            "convert",
            "1 Pa.m3/s@20C",
            "--gas",
            "air",
            "--to-gas",
            "helium",
            "--regime",
            regime,
            "--to",
            "Pa.m3/s@20C",
        ]);
        number(&answer, "/value")
    };
    close(ratio("molecular"), 2.6901, 1e-4, "molecular");
    close(ratio("viscous"), 0.928_03, 5e-3, "viscous");
    close(ratio("choked"), 2.8530, 1e-3, "choked");
}

/// Physics note 5.2 and 5.3: water at 25 °C in a bore of 10 µm through 1 mm.
/// Poiseuille alone gives 27.86 µg/s at 101 325 Pa; here the meniscus holds
/// 28.79 kPa of it, and 1 atm opens bores from 2.84 µm on.
#[test]
fn water_in_a_hole() {
    let answer = json(&[
        "leak",
        "--bore",
        "10um",
        "--wall",
        "1mm",
        "--liquid",
        "water",
        "--upstream",
        "1atm",
        "--downstream",
        "0Pa",
        "--temperature",
        "25C",
    ]);
    close(number(&answer, "/holding_pressure_pa"), 28_790.0, 2e-3, "holding pressure");
    close(number(&answer, "/opening_bore_m"), 2.84e-6, 2e-3, "opening bore");
    let drive = (101_325.0 - 28_790.0) / 101_325.0;
    close(number(&answer, "/mass_flow_kg_per_s"), 27.86e-9 * drive, 0.02, "liquid flow");
    // 0.268 µg/s from the flush meniscus.
    let limit = number(&answer, "/evaporation_limit_mol_per_s") * 18.0153e-3;
    close(limit, 0.268e-9, 5e-3, "kinetic limit");
    let small = json(&["leak", "--bore", "2um", "--wall", "1mm", "--liquid", "water"]);
    assert_eq!(small["state"], "blocked");
}

/// Physics note 1.5: slit of 1 µm by 10 mm, 3 mm long.
#[test]
fn flow_through_a_slit() {
    let answer = json(&["leak", "--slit", "1um,10mm", "--wall", "3mm"]);
    close(number(&answer, "/molar_flow_mol_per_s"), 6.566e-8, 5e-3, "slit");
}

//! Real, dirty logs are read as they are. They are not copied into the
//! project: where the folder is absent, the test says so and passes.

use super::{fault, json, number, root};

fn folder() -> Option<std::path::PathBuf> {
    let folder = root().join("../shared/data/pressure");
    if folder.is_dir() {
        return Some(folder);
    }
    println!("notice: the folder of real logs is absent, so this test checks nothing");
    None
}

#[test]
fn an_outgassing_log_is_cut_into_segments() {
    let Some(folder) = folder() else { return };
    let path = folder.join("am4space_20230803_WAAM1_sample.csv");
    let path = path.to_str().unwrap();
    // The header carries no unit of pressure: asked for, never guessed.
    let (code, text) = fault(&["examine", path]);
    assert_eq!(code, 2, "{text}");
    assert!(text.contains("CH2"), "{text}");
    let answer = json(&[
        "examine",
        path,
        "--pressure",
        "CH2=mbar",
        "--pressure",
        "CH3=mbar",
        "--temperature",
        "T1=C",
    ]);
    let runs = answer["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 2);
    // Research note 1.1: the last 57 rows read 1000 mbar in both channels,
    // the chamber is vented; about 20 h in 5 s steps.
    assert!(runs[0]["vented_from_sample"].as_u64().is_some(), "{}", runs[0]);
    let segments = runs[0]["stages"].as_array().unwrap();
    assert!(segments.len() >= 3, "{segments:?}");
    // Research note 1.1: peak 7.59e-2 Pa, then a decay to 3.24e-2 Pa at 1 h.
    let highest = segments
        .iter()
        .filter(|segment| number(segment, "/start_s") > 600.0 && segment["direction"] == "falling")
        .map(|segment| number(segment, "/start_pa"))
        .fold(0.0, f64::max);
    assert!(highest > 0.02 && highest < 0.1, "{highest}");
    // The longest segment is the decay by outgassing; the end is the venting.
    let longest = segments
        .iter()
        .max_by(|a, b| number(a, "/samples").total_cmp(&number(b, "/samples")))
        .unwrap();
    assert_eq!(longest["direction"], "falling", "{longest}");
    assert_eq!(segments.last().unwrap()["direction"], "rising");
}

#[test]
fn a_barometer_log_is_level_noise() {
    let Some(folder) = folder() else { return };
    let path = folder.join("bmp180_inplace_oss_1.log");
    let answer = json(&[
        "examine",
        path.to_str().unwrap(),
        "--pressure",
        "BMP180_Pressure=0.1Pa",
        "--temperature",
        "BMP180_Temperature=mC",
    ]);
    let run = &answer["runs"][0];
    assert_eq!(run["samples"], 2600);
    // Research note 1.3: mean 97 284.84 Pa; deviation from successive
    // differences 3.21 Pa.
    let segments = run["stages"].as_array().unwrap();
    let n: f64 = segments.iter().map(|segment| number(segment, "/samples")).sum();
    let mean: f64 = segments
        .iter()
        .map(|segment| number(segment, "/mean_pa") * number(segment, "/samples"))
        .sum::<f64>()
        / n;
    assert!((mean - 97_284.84).abs() < 0.05, "{mean}");
    let noise = number(&segments[0], "/noise_pa");
    assert!((noise / 3.21 - 1.0).abs() < 0.05, "{noise}");
}

/// Research note 1.3: the logs have no isolated stage, so that no rise is
/// read and no cause is named.
#[test]
fn a_log_without_a_cycle_says_why_it_has_no_rise() {
    let Some(folder) = folder() else { return };
    let path = folder.join("bmp180_inplace_oss_2.log");
    let answer = json(&[
        "examine",
        path.to_str().unwrap(),
        "--pressure",
        "BMP180_Pressure=0.1Pa",
        "--temperature",
        "BMP180_Temperature=mC",
    ]);
    let run = &answer["runs"][0];
    assert!(run["rise_pa"].is_null() && run["terms"].as_array().unwrap().is_empty(), "{run}");
    assert!(run["cycle_stages"]["reason"].as_str().unwrap().contains("no evacuation"));
}

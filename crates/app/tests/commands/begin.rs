//! `isobar begin`: the list, a case from a container, a worked case.

use super::{fault, json, number};

#[test]
fn a_vial_begins_a_case_that_the_forecast_reads() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("vial.toml");
    let path = file.to_str().unwrap();
    let arguments =
        ["begin", "vial-10r", "--fill", "10mL", "--liquid", "--leak", "10um", "-o", path];
    let answer = json(&arguments);
    assert_eq!(answer["file"], path);
    assert!(answer["missing"].as_array().unwrap().len() > 3, "nothing is taken for known");
    // 13.5 mL closed less 10 mL: 3.5 mL (ISO 8362-1, from memory).
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(text.contains("3.5 mL") || text.contains("3.5e-6 m3"), "{text}");
    let forecast = json(&["forecast", path, "--draws", "16"]);
    assert!(number(&forecast, "/headspace_ceiling_pa") > 1000.0);
    // Nothing is written over.
    let (code, said) = fault(&arguments);
    assert_eq!(code, 2);
    assert!(said.contains("there already"), "{said}");
}

#[test]
fn the_list_names_containers_and_worked_cases() {
    let answer = json(&["begin"]);
    assert!(answer["containers"].as_array().unwrap().len() > 25);
    let cases = answer["worked_cases"].as_array().unwrap();
    assert!(cases.len() >= 8);
    for case in cases {
        let id = case["case"].as_str().unwrap();
        let begun = json(&["begin", id]);
        assert!(begun["invented"].as_bool().unwrap(), "{id}");
        assert!(begun["case_toml"].as_str().unwrap().contains("[rig.sensor]"), "{id}");
    }
}

#[test]
fn what_is_missing_or_wrong_is_said() {
    for (arguments, words) in [
        (vec!["begin", "vial-10"], "vial-10r"),
        (vec!["begin", "vial-10r", "--fill", "10mL"], "--liquid or --dry"),
        (vec!["begin", "vial-10r", "--fill", "14mL", "--liquid"], "no headspace"),
        (vec!["begin", "syringe-3ml", "--fill", "3mL", "--liquid"], "bubble"),
        (vec!["begin", "vial-10r", "--dry", "--use", "sale"], "full inspection"),
        (vec!["begin", "vial-10r", "--dry", "--fill", "10"], "unit"),
    ] {
        let (code, said) = fault(&arguments);
        assert_eq!(code, 2, "{arguments:?}: {said}");
        assert!(said.contains(words), "{arguments:?}: {said}");
        assert!(said.contains("hint:"), "{said}");
    }
}

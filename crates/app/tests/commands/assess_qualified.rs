//! Sentences for a report claim no more than the table carries: repeated
//! units, pooled lots and sizes that nobody tested stand in them.

use super::assess_reference::run;
use super::fault;

/// The answer for a table of this text.
fn answer(command: &str, text: &str) -> serde_json::Value {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    std::fs::write(&path, text).unwrap();
    run(&command.replace("TABLE", path.to_str().unwrap()))
}

fn note(answer: &serde_json::Value, code: &str) -> Option<serde_json::Value> {
    answer["notes"].as_array().unwrap().iter().find(|note| note["code"] == code).cloned()
}

const READ_TWICE: &str = "unit,rise\nA1,3\nA1,3.1\nA2,4\nA2,4.1\nA3,4.4\nA3,4.5\n";

#[test]
fn readings_of_one_unit_are_not_units() {
    let found = answer("assess limit TABLE --column rise", READ_TWICE);
    let told = note(&found, "units-repeated").expect("a note");
    assert!(told["text"].as_str().unwrap().contains("3 units in 6 rows"), "{told}");
    assert!(told.to_string().contains("--lot unit"), "{told}");
    assert!(found["wording"].as_str().unwrap().contains("3 units in 6 rows"), "{found}");
    // Where units count, or each was read once, there is nothing to say.
    let by_unit = answer("assess limit TABLE --column rise --lot unit", READ_TWICE);
    assert_eq!(note(&by_unit, "units-repeated"), None);
    let once = READ_TWICE.replace("A1,3.1", "A4,3.1").replace("A2,4.1", "A5,4.1");
    let once = once.replace("A3,4.5", "A6,4.5");
    let once = answer("assess limit TABLE --column rise", &once);
    assert_eq!(note(&once, "units-repeated"), None);
    assert!(!once["wording"].as_str().unwrap().contains("Qualified"), "{once}");
}

#[test]
fn a_column_of_units_of_measure_holds_one() {
    let one = "rise,unit\n3,Pa\n4,Pa\n5,Pa\n4.4,Pa\n";
    let found = answer("assess limit TABLE --column rise", one);
    assert_eq!(note(&found, "units-repeated"), None);
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    std::fs::write(&path, one.replace("4.4,Pa", "0.0044,kPa")).unwrap();
    let (code, said) = fault(&["assess", "limit", path.to_str().unwrap(), "--column", "rise"]);
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("Pa, kPa") && said.contains("hint:"), "{said}");
}

#[test]
fn pooled_lots_stand_in_the_sentence() {
    let lots = "lot,rise\n1,3\n1,3.1\n1,2.9\n2,4.1\n2,4.2\n2,4.0\n3,5\n3,5.1\n3,5.2\n";
    let pooled = answer("assess limit TABLE --column rise", lots);
    assert!(pooled["wording"].as_str().unwrap().contains("pooled lots"), "{pooled}");
}

#[test]
fn a_size_beyond_those_tested_is_not_claimed() {
    let text = "unit,size,hit\n1,1,0\n1,1,0\n1,1,1\n2,3,1\n2,3,0\n2,3,1\n3,5,1\n3,5,1\n3,5,1\n\
                4,8,1\n4,8,1\n4,8,1\n";
    let found = answer("assess detection TABLE --size size --hit hit", text);
    assert!(found["a90_95"].as_f64().unwrap() > 8.0, "{found}");
    let wording = found["wording"].as_str().unwrap();
    assert!(wording.contains("no size tested is shown"), "{wording}");
    assert!(!wording.contains("and above are found"), "{wording}");
    assert!(wording.contains("4 units in 12 rows"), "{wording}");
    assert!(note(&found, "units-repeated").is_some());
}

#[test]
fn every_route_of_detection_tells_repeats() {
    let text = "unit,size,rise,hit\nA1,1,3,0\nA1,1,3.4,0\nA2,2,5,0\nA2,2,6.1,1\nA3,4,9,0\n\
                A3,4,9.6,1\nA4,8,17,1\nA4,8,19,1\nA5,9,20,1\nA5,9,18,1\nA6,3,8,1\nA6,3,7,1\n\
                B1,0,1,0\nB1,0,1.2,0\n";
    let read = "assess detection TABLE --size size --reading rise --threshold 6";
    assert!(note(&answer(read, text), "units-repeated").is_some());
    let by_unit = answer(&format!("{read} --unit unit"), text);
    assert_eq!(note(&by_unit, "units-repeated"), None);
    // Blanks have no place on a logarithmic axis: left out, and said.
    let left_out = note(&by_unit, "blanks-left-out").expect("a note");
    assert!(left_out["text"].as_str().unwrap().starts_with("2 rows"), "{left_out}");
    let floor = "assess detection TABLE --size size --hit hit --false-calls 0.01";
    assert!(note(&answer(floor, text), "units-repeated").is_some());
}

/// Three decimals everywhere: the reader asks, and takes the answer.
#[test]
fn the_decimal_mark_can_be_said() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    std::fs::write(&path, "rise\n1.234\n1.345\n1.123\n1.456\n").unwrap();
    let line = ["assess", "limit", path.to_str().unwrap(), "--column", "rise"];
    let (code, said) = fault(&line);
    assert!(code == 2 && said.contains("--decimal-mark point"), "{said}");
    let text = std::fs::read_to_string(&path).unwrap();
    let found = answer("assess limit TABLE --column rise --decimal-mark point", &text);
    // The mean by hand: (1.234 + 1.345 + 1.123 + 1.456) / 4.
    assert!((found["mean"].as_f64().unwrap() - 1.2895).abs() < 1e-12, "{found}");
}

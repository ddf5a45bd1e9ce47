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
    assert!(wording.contains("no size tested (1.00 to 8.00) is shown"), "{wording}");
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

/// Sizes that only a curve or a line reaches, on each route.
#[test]
fn no_route_claims_a_size_beyond_those_tested() {
    let text = "size,hit,rise\n0,0,1\n0,0,1.2\n0,0,1.1\n0,0,1\n1,0,2\n1,0,2.3\n1,1,2.9\n\
                1,0,1.9\n3,1,4\n3,0,4.1\n3,1,4.8\n5,1,6\n5,0,5.8\n5,1,6\n5,1,7\n6,1,8\n6,1,7.6\n";
    for (route, phrase) in [
        ("--hit hit", "are found"),
        ("--hit hit --false-calls 0.01", "are so detected"),
        ("--reading rise --threshold 10", "exceed it"),
    ] {
        let found = answer(&format!("assess detection TABLE --size size {route}"), text);
        assert!(found["a90"].as_f64().unwrap() > 6.0, "{found}");
        let wording = found["wording"].as_str().unwrap();
        let beyond = "beyond the sizes tested, 1.00 to 6.00: read off the curve, not observed";
        assert!(wording.contains(beyond), "{wording}");
        assert!(wording.contains("no size tested (1.00 to 6.00) is shown"), "{wording}");
        assert!(!wording.contains(&format!("and above {phrase}")), "{wording}");
    }
    // A threshold within reach of the sizes tested: nothing lies beyond.
    let read = "assess detection TABLE --size size --reading rise --threshold 3.2";
    let within = answer(read, text);
    assert!(within["a90_95"].as_f64().unwrap() < 6.0, "{within}");
    let wording = within["wording"].as_str().unwrap();
    assert!(wording.contains("and above exceed it nine times in ten"), "{wording}");
    assert!(!wording.contains("beyond"), "{wording}");
}

#[test]
fn a_row_without_a_value_is_told() {
    let found = answer("assess limit TABLE --column rise", "rise\n3\n\n3.4\n\n4\n3.6\n\n");
    assert_eq!(found["n"], 4);
    let told = note(&found, "INT-203").expect("a note").to_string();
    assert!(told.contains("2 rows") && told.contains("line 3"), "{told}");
    let whole = answer("assess limit TABLE --column rise", "rise\n3\n3.4\n4\n3.6\n");
    assert_eq!(note(&whole, "INT-203"), None);
}

/// No scatter can be worked out where squares overflow or vanish.
#[test]
fn numbers_out_of_range_are_named() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    for (text, value, line) in [
        ("rise\n3\n1e308\n4\n3.6\n", "1e308", "line 3"),
        ("rise\n1e-310\n2e-310\n3e-310\n", "1e-310", "line 2"),
    ] {
        std::fs::write(&path, text).unwrap();
        let file = path.to_str().unwrap();
        for method in ["normal", "two-sided", "nonparametric", "lognormal", "box-cox"] {
            let line_given = ["assess", "limit", file, "--column", "rise", "--method", method];
            let (code, said) = fault(&line_given);
            assert_eq!(code, 2, "{said}");
            for word in ["cannot be said, because", value, line, "`rise`", "1e-100 and 1e100"] {
                assert!(said.contains(word), "{method}: {said}");
            }
            assert!(!said.contains("NaN") && !said.contains("do not vary"), "{said}");
        }
    }
    for mean in ["1e308", "1e-300"] {
        let line = ["assess", "limit", "--mean", mean, "--sd", "1", "--n", "10"];
        let (code, said) = fault(&line);
        assert!(code == 2 && said.contains(mean) && said.contains("1e100"), "{said}");
    }
}

/// Repeats of one day share what the day adds.
#[test]
fn challenges_of_one_day_are_not_independent() {
    let text = "day,flow,rise\n1,0,1\n1,0,1.2\n1,1,3\n1,1,3.1\n2,2,5\n2,2,5.2\n2,0,0.8\n2,1,2.9\n";
    let fit = "assess flow TABLE --flow flow --reading rise";
    let found = answer(fit, text);
    let told = note(&found, "challenges-repeated").expect("a note").to_string();
    // By hand: day 1 has flows 0 and 1, day 2 has 0, 1 and 2.
    assert!(told.contains("8 rows hold 5 pairs") && told.contains("day"), "{told}");
    assert!(found["wording"].as_str().unwrap().contains("8 rows hold 5 pairs"), "{found}");
    let once = "day,flow,rise\n1,0,1\n2,0,1.2\n1,1,3\n2,1,3.1\n1,2,5\n2,2,5.2\n";
    assert_eq!(note(&answer(fit, once), "challenges-repeated"), None);
    let unit = text.replace("day,", "unit,").replace("\n1,", "\nU1,").replace("\n2,", "\nU2,");
    assert!(note(&answer(fit, &unit), "units-repeated").is_some());
}

#[test]
fn a_slope_of_chance_stands_in_the_sentence() {
    let text = "flow,rise\n0,1\n0,5\n1,3\n1,2\n2,4.5\n2,1.2\n";
    let found = answer("assess flow TABLE --flow flow --reading rise --invert 4", text);
    assert!(found["inverse"]["estimate"].is_null(), "{found}");
    let wording = found["wording"].as_str().unwrap();
    assert!(wording.contains("Qualified: cannot be said, because the slope"), "{wording}");
}

/// Columns computed from others are constant but for the last digit.
#[test]
fn rounding_is_no_scatter() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    std::fs::write(&path, "x\n5\n5.000000000000001\n5\n5\n5\n5\n5\n5\n").unwrap();
    let file = path.to_str().unwrap();
    for command in ["limit", "routine"] {
        let (code, said) = fault(&["assess", command, file, "--column", "x"]);
        assert!(code == 2 && said.contains("rounding, no scatter"), "{said}");
    }
}

/// On a logarithmic axis a size below zero would pass for a blank.
#[test]
fn a_size_below_zero_is_no_blank() {
    let text = "size,hit,rise\n-3,0,1\n1,0,2\n1,1,2.6\n2,0,2.9\n2,1,4\n4,1,7\n4,1,8\n";
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    std::fs::write(&path, text).unwrap();
    let file = path.to_str().unwrap();
    for route in ["--hit hit", "--hit hit --false-calls 0.01", "--reading rise --threshold 3"] {
        let line = format!("assess detection {file} --size size {route}");
        let (code, said) = fault(&line.split_whitespace().collect::<Vec<_>>());
        assert!(code == 2 && said.contains("line 2") && said.contains("below zero"), "{said}");
        assert!(said.contains("--scale linear"), "{said}");
    }
    let found = answer("assess detection TABLE --size size --hit hit --scale linear", text);
    assert_eq!(found["n"], 7, "{found}");
}

#[test]
fn a_reading_beyond_the_challenges_stands_in_the_sentence() {
    let text = "flow,rise\n0,1\n0,1.2\n1,3\n1,3.1\n2,5\n2,5.2\n";
    let far = answer("assess flow TABLE --flow flow --reading rise --invert 40", text);
    assert!(note(&far, "extrapolated").is_some(), "{far}");
    assert!(far["wording"].as_str().unwrap().contains("Qualified: "), "{far}");
    for kind in ["--variance-model level", "--flow-uncertainty 0.01"] {
        let fit = format!("assess flow TABLE --flow flow --reading rise {kind} --invert");
        let far = answer(&format!("{fit} 40"), text);
        let wording = far["wording"].as_str().unwrap();
        assert!(wording.contains("outside the calibrated range 0 to 2"), "{wording}");
        assert_eq!(note(&answer(&format!("{fit} 4"), text), "extrapolated"), None);
    }
    let within = answer("assess flow TABLE --flow flow --reading rise --invert 4", text);
    assert!(!within["wording"].as_str().unwrap().contains("Qualified"), "{within}");
}

/// A risk beyond a half would move the limit outward and guard nothing.
#[test]
fn a_guard_band_never_widens_the_limit() {
    let start = "assess limit --mean 10 --sd 1 --n 20 --uncertainty 0.1 --guard-risk";
    let line = format!("{start} 0.9");
    let (code, said) = fault(&line.split_whitespace().collect::<Vec<_>>());
    assert!(code == 2 && said.contains("at most 0.5"), "{said}");
    let found = run(&format!("{start} 0.05"));
    let (guarded, limit) = (found["guarded_limit"].as_f64(), found["limit"].as_f64());
    assert!(guarded < limit, "{found}");
}

#[test]
fn a_critical_size_that_cannot_be_made_is_said() {
    let start = "assess next-size --available 2,3 --studies 0 --critical";
    let beyond = run(&format!("{start} 9"));
    assert!(note(&beyond, "critical-beyond-sizes").is_some(), "{beyond}");
    assert!(beyond["wording"].as_str().unwrap().contains("beyond the largest"), "{beyond}");
    assert_eq!(note(&run(&format!("{start} 3")), "critical-beyond-sizes"), None);
}

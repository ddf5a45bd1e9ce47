//! `assess detection` where two kinds of results meet, and above false calls.

use super::assess_reference::{check, run};
use super::{isobar, number};

const MODELS: &str = "statistics_models.csv";
const JOINED: &str = "assess detection examples/read_and_judged.csv --size verified_um --reading \
                      rise_pa --threshold 24 --blank 16.2 --hit found";

/// scipy's likelihood of both kinds, and of each by itself.
#[test]
fn read_and_judged_units_in_one_curve() {
    let answer = run(JOINED);
    assert_eq!(answer["route"], "readings and hit/miss");
    assert_eq!((answer["judged"].as_u64(), answer["n"].as_u64()), (Some(24), Some(38)));
    for (quantity, at) in [
        ("joined intercept", "/intercept"),
        ("joined slope", "/slope"),
        ("joined scatter", "/standard_deviation"),
        ("joined ratio", "/kinds_agree/ratio"),
        ("joined p", "/kinds_agree/p_value"),
    ] {
        check(MODELS, quantity, number(&answer, at));
    }
    // More units than those read alone: a smaller bound.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("read.csv");
    let text = std::fs::read_to_string(super::root().join("examples/read_and_judged.csv")).unwrap();
    let read = |line: &&str| !line.starts_with('J');
    std::fs::write(&path, text.lines().filter(read).collect::<Vec<_>>().join("\n")).unwrap();
    let alone = JOINED.replace("examples/read_and_judged.csv", path.to_str().unwrap());
    let alone = run(alone.trim_end_matches(" --hit found"));
    assert_eq!(alone["route"], "readings");
    assert_eq!(alone["n"].as_u64(), Some(14));
    assert!(number(&answer, "/a90_95") < number(&alone, "/a90_95"));
}

/// Positive control: judgements turned round are another curve, and said so.
#[test]
fn judgements_of_another_curve_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("turned.csv");
    let text = std::fs::read_to_string(super::root().join("examples/read_and_judged.csv")).unwrap();
    let turned: String = text
        .lines()
        .map(|line| match line.strip_suffix(",,0") {
            Some(start) if line.starts_with('J') => format!("{start},,1\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    std::fs::write(&path, turned).unwrap();
    let line = JOINED.replace("examples/read_and_judged.csv", path.to_str().unwrap());
    let answer = run(&line);
    assert!(number(&answer, "/kinds_agree/p_value") < 0.001);
    let codes = answer["notes"].to_string();
    assert!(codes.contains("kinds-disagree"), "{codes}");
    // A row that is neither read nor judged is refused with its line.
    let text = std::fs::read_to_string(&path).unwrap().replace(",,1\nJ03", ",,\nJ03");
    std::fs::write(&path, text).unwrap();
    let words: Vec<&str> = line.split_whitespace().collect();
    let refused = isobar(&words);
    assert!(!refused.status.success());
    assert!(String::from_utf8_lossy(&refused.stderr).contains("line 18"));
}

/// Against scipy, and the simulated bound stands beyond the plain one.
#[test]
fn the_bound_above_false_calls() {
    let answer =
        run("assess detection examples/blanks_and_leaks.csv --size verified_um --hit found --of \
         tested --false-calls estimate");
    for (quantity, at) in [
        ("false calls floor", "/floor"),
        ("false calls intercept", "/intercept"),
        ("false calls slope", "/slope"),
        ("false calls a90", "/a90"),
        ("false calls a90/95", "/a90_95_profile"),
    ] {
        check(MODELS, quantity, number(&answer, at));
    }
    let (plain, simulated) = (number(&answer, "/a90_95_profile"), number(&answer, "/a90_95"));
    assert!(simulated > plain && simulated < 1.1 * plain, "{simulated} {plain}");
    assert!(answer["a90_95_method"].as_str().unwrap().contains("2000 simulated samples"));
}

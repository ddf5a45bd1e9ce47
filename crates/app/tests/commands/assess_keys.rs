//! Keys of every `assess` answer against `docs/json.md`: what one invocation
//! leaves open, another shows.

use std::collections::BTreeSet;

use super::json;
use super::json_keys::{documented, printed};

const CONTROLS: &str = "examples/positive_controls.csv";
const NEGATIVE: &str = "examples/negative_controls.csv";
const CHALLENGE: &str = "examples/flow_challenge.csv";

/// Sections of the documentation with the invocations that show their keys.
fn sections() -> Vec<(&'static str, Vec<String>)> {
    let line = |text: &str| format!("assess {text}");
    vec![
        (
            "assess limit",
            vec![
                line("limit examples/three_site_study.csv --summary --where population=no|leak"),
                line(&format!(
                    "limit {NEGATIVE} --column rise_pa --lot day --leak-mean 60 --leak-sd 6 \
                     --leak-n 20 --uncertainty 0.5"
                )),
                line(&format!("limit {NEGATIVE} --column rise_pa --method two-sided")),
            ],
        ),
        (
            "assess detection",
            vec![
                line(&format!(
                    "detection {CONTROLS} --size verified_um --hit found --prior-intercept 0,5 \
                     --prior-slope 5,5 --samples 100"
                )),
                line(&format!(
                    "detection {CONTROLS} --size verified_um --hit found --where nominal_um=3.0 \
                     --samples 100"
                )),
            ],
        ),
        (
            "assess detection --false-calls",
            vec![line(
                "detection examples/blanks_and_leaks.csv --size verified_um --hit found --of \
                     tested --false-calls estimate",
            )],
        ),
        (
            "assess detection --reading",
            vec![
                line(
                    "detection examples/repeated_controls.csv --size verified_um --reading rise_pa \
                     --threshold 24 --blank 16.2 --unit unit --spread size",
                ),
                line(
                    "detection examples/read_and_judged.csv --size verified_um --reading rise_pa \
                     --threshold 24 --blank 16.2 --hit found",
                ),
            ],
        ),
        (
            "assess flow",
            vec![line(&format!(
                "flow {CHALLENGE} --flow flow_sccm_at_0c --reading rise_pa --invert 40 \
                 --flow-unit sccm@0C --measure-time 10s"
            ))],
        ),
        (
            "assess proportion",
            vec![
                line("proportion --hits 45 --of 45"),
                line(&format!("proportion {CONTROLS} --unit unit --hit found")),
            ],
        ),
        (
            "assess proportion --reliability",
            vec![line("proportion --reliability 0.95 --failures 1")],
        ),
        (
            "assess precision",
            vec![
                line(
                    "precision examples/three_site_study.csv --summary --sd-of-averages 3.9 \
                     --repeatability-limit 8.7",
                ),
                line(
                    "precision examples/interlaboratory.csv --laboratory laboratory --level level \
                     --reading reading",
                ),
            ],
        ),
        (
            "assess precision --operator",
            vec![line(
                "precision examples/gauge_study.csv --part part --operator operator --reading \
                 reading --tolerance 20",
            )],
        ),
        (
            "assess precision --nested",
            vec![line("precision examples/days_and_runs.csv --nested day,run --reading reading")],
        ),
        (
            "assess precision --nested with three levels or more",
            vec![line(
                "precision examples/sites_days_runs.csv --nested site,day,run --reading rise_pa",
            )],
        ),
        (
            "assess precision --random",
            vec![line(
                "precision examples/unequal_gauge.csv --random part,operator,part:operator \
                 --reading reading",
            )],
        ),
        (
            "assess precision --verdict",
            vec![line(
                "precision examples/gauge_study.csv --part part --operator operator --verdict \
                 verdict",
            )],
        ),
        (
            "assess size-exponent",
            vec![line("size-exponent examples/three_site_study.csv --summary")],
        ),
        (
            "assess rise",
            vec![line("rise --volume 1L --from 1kPa --to 2kPa --temperature 20C --seconds 10")],
        ),
        (
            "assess routine",
            vec![
                line("routine examples/routine_control.csv --column reading_pa --chart cusum"),
                line(
                    "routine examples/routine_control.csv --column reading_pa --sample day \
                     --first-phase 25 --lower-specification 20 --upper-specification 40",
                ),
            ],
        ),
        (
            "assess compare",
            vec![
                line("compare examples/two_rigs.csv --first old_pa --second new_pa --margin 2"),
                line(
                    "compare examples/gauge_study.csv --reading reading --group operator --groups \
                     A,B --margin 3",
                ),
            ],
        ),
        ("assess compare --sd", vec![line("compare --margin 2 --sd 1.7")]),
        ("assess uncertainty", vec![line("uncertainty examples/volume_budget.toml --draws 20000")]),
        (
            "assess stability",
            vec![line("stability examples/quiet_record.csv --column pressure_pa --time time_s")],
        ),
        (
            "assess robustness",
            vec![
                line(
                    "robustness examples/half_fraction.csv --factor settle_s --factor pump_s \
                     --factor room_c --factor load --response rise_pa",
                ),
                line(
                    "robustness examples/settings.csv --factor settle_s --factor pump_s --response \
                     rise_pa --criterion rise_pa<=20",
                ),
            ],
        ),
        (
            "assess robustness --design",
            vec![line(
                "robustness --design fractional --generator D=ABC --factor a=1,2 --factor b=1,2 \
                 --factor c=1,2 --factor d=1,2",
            )],
        ),
        (
            "assess next-size",
            vec![line(
                "next-size examples/positive_controls.csv --size nominal_um --hit found \
                 --available 1.5,2,3,4,5,6,8,10 --critical 6 --most-units 80 --studies 5",
            )],
        ),
        (
            "assess volume",
            vec![line(
                "volume --reference 50mL --reference-uncertainty 0.2% --reference-pressure 101.3kPa \
                 --from 0.1kPa --to 34.5kPa --pressure-uncertainty 30Pa --draws 20000",
            )],
        ),
        (
            "assess proportion --sample",
            vec![line("proportion --lot-size 1000 --quality-limit 1.0")],
        ),
    ]
}

/// Method, what counts, assumptions, and a next step in every note.
fn account_is_given(answer: &serde_json::Value, line: &str) {
    let filled = |value: &serde_json::Value| value.as_str().is_some_and(|text| !text.is_empty());
    let list = |key: &str| answer[key].as_array().unwrap().clone();
    assert!(!list("accounts").is_empty(), "{line}: no account");
    for account in list("accounts") {
        assert!(["result", "method", "of"].iter().all(|key| filled(&account[key])), "{account}");
        assert!(account["counted"].is_null() || account["counted"].as_f64() > Some(0.0));
    }
    assert!(filled(&answer["method"]) || answer["responses"].is_array(), "{line}: no method");
    assert!(!answer["n"].is_string() && answer.get("n").is_some(), "{line}: no n");
    assert!(!list("assumptions").is_empty(), "{line}: supposes nothing");
    for assumption in list("assumptions") {
        assert!(["name", "test", "finding"].iter().all(|key| filled(&assumption[key])), "{line}");
    }
    for note in list("notes") {
        assert!(filled(&note["next_step"]), "{line}: a note without a next step: {note}");
    }
}

/// The text and the words for a report say the same.
#[test]
fn what_was_not_checked_is_said_in_text_and_words() {
    let line = ["assess", "limit", "--mean", "13", "--sd", "4.3", "--n", "135"];
    let shown = super::isobar(&line);
    let text = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(text.contains("method, and the number that counts:"), "{text}");
    assert!(text.contains("135 values"), "{text}");
    assert!(text.contains("normal distribution: Not checked"), "{text}");
    let wording = json(&line)["wording"].as_str().unwrap().to_owned();
    assert!(wording.contains("What counts: 135 values"), "{wording}");
    assert!(wording.contains("Supposed and not checked: normal distribution"), "{wording}");
    // Single readings are checked, and then nothing is left open.
    let line = ["assess", "limit", NEGATIVE, "--column", "rise_pa"];
    let wording = json(&line)["wording"].as_str().unwrap().to_owned();
    assert!(wording.contains("Shapiro-Wilk"), "{wording}");
    assert!(!wording.contains("not checked: normal"), "{wording}");
}

#[test]
fn every_assess_key_is_documented_and_shown() {
    // Words that are values or conditions in the text, not keys.
    let values = ["none", "quasi", "complete", "null"];
    let mut common = documented("assess");
    for word in ["assess", "null"] {
        common.remove(word);
    }
    for (heading, lines) in sections() {
        let mut keys = BTreeSet::new();
        for line in &lines {
            let words: Vec<String> =
                line.split_whitespace().map(|word| word.replace('|', " ")).collect();
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let answer = json(&words);
            assert!(answer["wording"].as_str().is_some_and(|text| text.len() > 20), "{line}");
            account_is_given(&answer, line);
            printed(&answer, &mut keys);
        }
        let mut known = documented(heading);
        for value in values {
            known.remove(value);
        }
        let undocumented: Vec<&String> =
            keys.iter().filter(|key| !known.contains(*key) && !common.contains(*key)).collect();
        assert!(undocumented.is_empty(), "{heading}: not documented: {undocumented:?}");
        // Separated data are needed for a penalised curve; its keys are the
        // same words as those of the curve.
        let gone: Vec<&String> = known.difference(&keys).filter(|key| *key != "reason").collect();
        assert!(gone.is_empty(), "{heading}: documented but not printed: {gone:?}");
    }
}

//! Case files: what is written reads back, and every fault has its place.

use intake::Refusal;
use intake::case_file::{UNSOURCED, read_case, write_case};
use study::provenance::{Origin, Provenance};

fn case_text() -> String {
    write_case(&study::worked_cases::lyophilised_vial())
}

/// Faults of a text as code, line, column.
fn faults(text: &str) -> Vec<(&'static str, u64, u64)> {
    let refusal: Refusal = read_case(text).expect_err("the text has a fault");
    refusal
        .messages()
        .iter()
        .filter(|message| message.is_refusal())
        .map(|message| {
            (message.code, message.place.line.unwrap_or(0), message.place.column.unwrap_or(0))
        })
        .collect()
}

fn line_of(text: &str, part: &str) -> u64 {
    1 + text.lines().position(|line| line.contains(part)).expect("the part is there") as u64
}

/// The worked case with one line changed, and the number of that line.
fn with(part: &str, replacement: &str) -> (String, u64) {
    let text = case_text();
    let line = line_of(&text, part);
    let changed: Vec<&str> = (1..)
        .zip(text.lines())
        .map(|(number, old)| if number == line { replacement } else { old })
        .collect();
    (changed.join("\n") + "\n", line)
}

#[test]
fn every_worked_case_reads_back_to_the_last_bit() {
    for case in study::worked_cases::all() {
        let text = write_case(&case);
        let read =
            read_case(&text).unwrap_or_else(|refusal| panic!("{}: {refusal}\n{text}", case.id));
        assert_eq!(read.input, case);
        assert!(read.messages.is_empty(), "{:?}", read.messages);
        assert_eq!(write_case(&read.input), text);
    }
}

#[test]
fn what_a_container_stands_is_kept_with_its_source() {
    let mut case = study::worked_cases::syringe();
    assert!(write_case(&case).contains("plunger_held = true"));
    let written = |old: &str, new: &str| write_case(&case).replacen(old, new, 1);
    let text = written(
        "plunger_held = true",
        "withstands = { value = \"1.5 bar\", uncertainty = \"0.1 bar\", source = \"measured\", \
         from = \"invented\" }\nplunger_bore = \"6.35 mm\"\n\
         break_loose = { value = \"5 N\", uncertainty = \"500 mN\", source = \"measured\", from = \
         \"invented\" }",
    );
    let read = read_case(&text).unwrap_or_else(|refusal| panic!("{refusal}\n{text}")).input;
    let strength = &read.profile.container.strength;
    let withstands = strength.withstands.as_ref().unwrap();
    assert!((withstands.value.pa() - 1.5e5).abs() < 1e-6);
    assert!((withstands.standard_uncertainty_si.unwrap() - 1e4).abs() < 1e-6);
    assert_eq!(withstands.provenance.origin, Origin::Measured);
    let force = strength.break_loose_n.as_ref().unwrap();
    assert_eq!((force.value, force.standard_uncertainty_si), (5.0, Some(0.5)));
    assert!(!strength.plunger_held);
    assert_eq!(read_case(&write_case(&read)).unwrap().input, read);
    for wrong in [
        "withstands = \"0 bar\"",
        "break_loose = \"5\"",
        "plunger_bore = \"-1 mm\"",
        "plunger_held = 1",
    ] {
        let refused = read_case(&written("plunger_held = true", wrong));
        assert!(refused.is_err(), "{wrong}");
    }
    case.profile.container.strength = Default::default();
    assert!(!write_case(&case).contains("plunger_"), "{}", write_case(&case));
}

#[test]
fn correlations_are_kept_and_their_inputs_are_of_the_list() {
    use study::uncertain_input::{Correlation, UncertainInput};
    let mut case = study::worked_cases::liquid_vial();
    case.correlations = vec![Correlation {
        first: UncertainInput::HeadspaceVolume,
        second: UncertainInput::HeadspacePressure,
        coefficient: -0.4,
    }];
    let text = write_case(&case);
    assert_eq!(read_case(&text).expect("it reads back").input, case);
    let wrong = text.replace("second = \"headspace pressure\"", "second = \"headspace\"");
    assert_ne!(wrong, text);
    let refusal = read_case(&wrong).unwrap_err();
    assert!(refusal.to_string().contains("second"), "{refusal}");
}

#[test]
fn a_shift_of_the_zero_is_kept_and_may_be_left_out() {
    let mut case = study::worked_cases::lyophilised_vial();
    assert!(!write_case(&case).contains("zero_shift"));
    case.rig.sensor.zero_shift = Some(study::sensor::ZeroShift {
        per_kelvin: study::quantities::PressureDifference::from_pa(-0.3),
        lag: study::quantities::Duration::from_s(90.0),
    });
    let text = write_case(&case);
    assert_eq!(read_case(&text).expect("it reads back").input, case);
    let half = text.replace("per_kelvin = \"-0.3 Pa\"\n", "");
    assert_ne!(half, text);
    let refusal = read_case(&half).unwrap_err();
    assert!(refusal.to_string().contains("per_kelvin"), "{refusal}");
}

#[test]
fn an_unknown_key_is_named_with_the_nearest_and_its_line() {
    let (text, line) = with("may_plug", "may_plugg = false");
    let refusal = read_case(&text).unwrap_err();
    let message = refusal.first();
    assert_eq!(
        (message.code, message.place.line, message.place.column),
        ("INT-102", Some(line), Some(1))
    );
    assert!(message.what.contains("[product]") && message.what.contains("may_plugg"), "{message}");
    assert!(message.next_step.contains("\"may_plug\""), "{message}");
}

#[test]
fn one_fault_gives_one_message_at_its_place() {
    for (part, replacement, code) in [
        ("settle =", "settle = 4", "INT-104"),
        ("settle =", "settle = \"4\"", "INT-104"),
        ("settle =", "settle = \"4 mL\"", "INT-104"),
        ("settle =", "settle = true", "INT-105"),
        ("settle =", "settle = nan", "INT-104"),
        ("wall =", "wall = \"-1 mm\"", "INT-104"),
        ("wall =", "wall = \"0 mm\"", "INT-104"),
        ("wall =", "wall = { value = \"1 mm\", uncertainty = \"-5 um\" }", "INT-104"),
        ("wall =", "wall = { value = \"1 mm\", source = \"guessed\" }", "INT-106"),
        ("wall =", "wall = { value = \"1 mm\", sources = \"assumed\" }", "INT-102"),
        ("wall =", "wall = { uncertainty = \"5 um\" }", "INT-103"),
        ("kind =", "kind = \"vail\"", "INT-106"),
        ("confidence =", "confidence = 95", "INT-104"),
        ("may_plug =", "may_plug = \"no\"", "INT-105"),
        ("gas =", "gas = \"nitrogne\"", "INT-106"),
        ("flow_equivalent_diameter =", "air_flow = \"1 sccm\"", "INT-104"),
        ("one_over_t =", "one_over_t = \"4e-4 Pa.m3/s\"", "INT-104"),
        ("line_viscous =", "line_viscous = \"2e-8 m3/s\"", "INT-104"),
        ("id =", "id = \"../lyo\"", "INT-106"),
    ] {
        let (text, line) = with(part, replacement);
        let found = faults(&text);
        assert_eq!(found.len(), 1, "{replacement}: {found:?}");
        assert_eq!((found[0].0, found[0].1), (code, line), "{replacement}");
        assert!(found[0].2 >= 1, "{replacement}");
    }
}

#[test]
fn a_missing_key_names_its_table() {
    let text = case_text();
    let text: String = text
        .lines()
        .filter(|line| !line.starts_with("fill ="))
        .map(|line| format!("{line}\n"))
        .collect();
    let refusal = read_case(&text).unwrap_err();
    let message = refusal.first();
    assert_eq!(message.code, "INT-103");
    assert!(message.what.contains("[product] lacks the key \"fill\""), "{message}");
    assert_eq!(message.place.line, Some(line_of(&text, "[product]")));
}

#[test]
fn a_missing_table_is_named() {
    let found = read_case("id = \"a\"\n").unwrap_err().to_string();
    for table in ["purpose", "container", "product", "headspace", "rig", "cycle"] {
        assert!(found.contains(&format!("lacks the table [{table}]")), "{found}");
    }
    assert!(found.contains("lacks the key \"question\""));
    assert!(!found.contains("[mall]"), "the limit may be absent: {found}");
}

#[test]
fn a_key_written_twice_and_broken_toml_are_refused_with_their_line() {
    let (text, line) = with("may_plug", "may_plug = false\nmay_plug = true");
    let found = faults(&text);
    assert!(found.contains(&("INT-101", line + 1, 1)), "{found:?}");
    let (text, line) = with("may_plug", "may_plug = ");
    let found = faults(&text);
    assert_eq!((found[0].0, found[0].1), ("INT-101", line), "{found:?}");
}

#[test]
fn all_faults_of_a_file_are_said_at_once_in_their_order() {
    let text = case_text()
        .replace("may_plug = false", "may_plugg = false")
        .replace("settle = \"4 s\"", "settle = 4")
        .replace("confidence = 0.95", "confidence = 95");
    let codes: Vec<_> = faults(&text).into_iter().map(|(code, ..)| code).collect();
    assert_eq!(codes, ["INT-104", "INT-102", "INT-104"]);
}

#[test]
fn provenance_is_kept_and_its_absence_is_said() {
    let (text, _) = with(
        "wall =",
        "wall = { value = \"1 mm\", uncertainty = \"50 um\", source = \"measured\", from = \"drawing 12\", by = \"A. Analyst\", on = \"2026-11-25\" }",
    );
    let wall = read_case(&text).unwrap().input.profile.container.wall;
    assert!(wall.standard_uncertainty_si.is_some_and(|u| (u - 5.0e-5).abs() < 1e-18));
    assert_eq!(wall.provenance.origin, Origin::Measured);
    assert_eq!(
        (wall.provenance.from.as_str(), wall.provenance.by.as_str()),
        ("drawing 12", "A. Analyst")
    );
    let (text, _) = with("wall =", "wall = \"1 mm\"");
    let read = read_case(&text).unwrap();
    assert_eq!(read.input.profile.container.wall.provenance, Provenance::assumed(UNSOURCED));
    assert_eq!(read_case(&write_case(&read.input)).unwrap().input, read.input);
}

#[test]
fn a_value_without_a_place_for_its_source_is_read_with_a_remark() {
    let (text, line) =
        with("settle =", "settle = { value = \"4 s\", source = \"assumed\", from = \"habit\" }");
    let read = read_case(&text).unwrap();
    assert_eq!(read.messages.len(), 1);
    assert_eq!(read.messages[0].place.line, Some(line));
}

#[test]
fn gauge_pressure_needs_the_barometer() {
    let (text, _) = with("pressure =", "pressure = \"-700 mbar gauge\"");
    assert_eq!(faults(&text)[0].0, "INT-104");
    let text = format!("barometer = \"1000 mbar\"\n{text}");
    let pressure = read_case(&text).unwrap().input.profile.headspace.pressure.value;
    assert!((pressure.mbar() - 300.0).abs() < 1e-9);
}

#[test]
fn a_limit_stated_twice_is_refused() {
    let (text, line) = with(
        "flow_equivalent_diameter",
        "flow_equivalent_diameter = \"5 um\"\nair_flow = \"1e-6 Pa.m3/s@20C\"",
    );
    assert_eq!(faults(&text), [("INT-106", line + 1, 12)]);
    let (text, _) = with("flow_equivalent_diameter", "helium_flow = \"6e-6 mbar.L/s@23C\"");
    let case = read_case(&text).unwrap().input;
    assert_eq!(read_case(&write_case(&case)).unwrap().input, case);
}

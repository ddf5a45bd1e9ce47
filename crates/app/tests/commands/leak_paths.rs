//! `isobar leak`: paths joined, certificates, other gases, headspaces and
//! storage; what lies outside a law is said, what cannot be is refused.

use super::{fault, json, number};

fn close(value: f64, expected: f64, relative: f64, what: &str) {
    assert!((value / expected - 1.0).abs() <= relative, "{what}: {value} against {expected}");
}

fn codes(answer: &serde_json::Value) -> Vec<&str> {
    let notes = answer["notes"].as_array().unwrap();
    notes.iter().filter_map(|note| note["code"].as_str()).collect()
}

fn refused(arguments: &[&str], words: &[&str]) {
    let (code, text) = fault(arguments);
    assert_eq!(code, 2, "isobar {arguments:?}: {text}");
    for word in words {
        assert!(text.contains(word), "isobar {arguments:?} does not say `{word}`: {text}");
    }
    assert!(text.contains("hint:") && !text.contains("panicked"), "{text}");
}

/// Physics note 8, check A: 6e-6 mbar·L/s of helium fills an evacuated vial of
/// 10 mL with a time constant of 52.58 d; 440.6 mbar after 30 d (molecular rule).
#[test]
fn the_sterility_limit_fills_a_vial() {
    let answer = json(&[
        "leak",
        "--certificate",
        "6e-6 mbar.L/s@20C, helium, 1atm to vacuum, 20C",
        "--molecular",
        "--fill-volume",
        "10mL",
        "--after",
        "30d",
    ]);
    close(number(&answer, "/filling/time_constant_s") / 86_400.0, 52.58, 1e-3, "time constant");
    close(number(&answer, "/filling/states/0/pressure_pa"), 44_060.0, 1e-3, "30 days");
    assert!(answer["regime"].is_null());
    assert!(codes(&answer).contains(&"carried-over-by-rule"));
}

/// Physics note 8, check B: oxygen through 1 µm by 1 mm into 5 mL, 3.42 % after
/// two years; check C: the full law starts at 140.2 Pa a day into 10 mL.
#[test]
fn oxygen_diffuses_and_air_flows_in() {
    let channel = ["leak", "--bore", "1um", "--wall", "1mm", "--temperature", "25C"];
    let mut oxygen = channel.to_vec();
    oxygen.extend(["--gas", "O2", "--downstream", "1atm", "--fill-volume", "5mL"]);
    oxygen.extend(["--diffusion", "2.05e-5m2/s", "--outside-fraction", "0.20946"]);
    oxygen.extend(["--after", "730.5d"]);
    let answer = json(&oxygen);
    close(number(&answer, "/filling/states/0/mole_fraction"), 0.0342, 2e-3, "two years");
    assert!(answer["filling"]["time_constant_s"].is_null());
    let mut air = channel.to_vec();
    air.extend(["--fill-volume", "10mL", "--after", "1d"]);
    close(number(&json(&air), "/filling/states/0/pressure_pa"), 140.2, 2e-3, "one day");
}

/// Physics note 1.8, table of brackets: helium over air of the law itself.
#[test]
fn another_gas_runs_the_law_anew() {
    for (bore, wall, ratio) in [("2um", "5mm", 1.683), ("0.5um", "1mm", 2.361)] {
        let answer = json(&[
            "leak",
            "--bore",
            bore,
            "--wall",
            wall,
            "--also-for",
            "He",
            "--also-for",
            "air",
        ]);
        close(number(&answer, "/also_for/0/ratio"), ratio, 1e-3, bore);
        close(number(&answer, "/also_for/1/ratio"), 1.0, 1e-14, "air over air");
    }
}

#[test]
fn a_certificate_gives_its_own_flow_back_under_its_own_conditions() {
    for shape in [&["--wall", "1mm"][..], &["--orifice"]] {
        let mut arguments =
            vec!["leak", "--certificate", "1e-5 mbar.L/s@20C, helium, 1atm to vacuum, 20C"];
        arguments.extend(shape);
        arguments.extend(["--gas", "helium"]);
        let answer = json(&arguments);
        close(number(&answer, "/throughput_mbar_l_per_s"), 1e-5, 1e-8, "same conditions");
        // The bore is that of the flow asked for directly.
        let mut direct = vec!["leak", "--flow", "1e-5 mbar.L/s@20C", "--gas", "helium"];
        direct.extend(shape);
        let bore = number(&json(&direct), "/bore_from_flow_m");
        close(number(&answer, "/bore_from_flow_m"), bore, 1e-12, "bore");
    }
}

#[test]
fn a_critical_orifice_follows_the_room_and_a_controller_does_not() {
    let under = |rule: &str| {
        json(&[
            "leak",
            "--certificate",
            "1 sccm@0C, air, 1000mbar to 0Pa, 20C",
            rule,
            "--upstream",
            "900mbar",
        ])
    };
    close(number(&under("--critical-orifice"), "/sccm_at_0c"), 0.9, 1e-9, "critical");
    close(number(&under("--constant"), "/sccm_at_0c"), 1.0, 1e-9, "constant");
    refused(
        &[
            "leak",
            "--certificate",
            "1 sccm@0C, air, 1000mbar to 0Pa",
            "--critical-orifice",
            "--downstream",
            "900mbar",
        ],
        &["critical"],
    );
}

#[test]
fn paths_join_side_by_side_and_one_after_the_other() {
    let one = ["leak", "--bore", "5um", "--wall", "1mm"];
    let flow = |more: &[&str]| {
        let mut arguments = one.to_vec();
        arguments.extend(more);
        json(&arguments)
    };
    let alone = number(&flow(&[]), "/molar_flow_mol_per_s");
    let beside = flow(&["--and", "bore 5um wall 1mm"]);
    close(number(&beside, "/molar_flow_mol_per_s"), 2.0 * alone, 1e-12, "beside");
    let behind = flow(&["--then", "bore 5um wall 1mm"]);
    let series = number(&behind, "/molar_flow_mol_per_s");
    assert!(series < 0.6 * alone && series > 0.45 * alone, "{series} {alone}");
    assert_eq!(behind["paths"].as_array().unwrap().len(), 2);
    let middle = number(&behind, "/paths/0/behind_pa");
    assert!((middle - number(&behind, "/paths/1/before_pa")).abs() < 1e-9);
    assert!(middle > 0.5 * 101_325.0 && middle < 101_325.0);
}

#[test]
fn a_mixture_of_one_gas_is_that_gas() {
    let of = |gas: &str| {
        let answer = json(&["leak", "--bore", "1um", "--wall", "1mm", "--gas", gas]);
        number(&answer, "/molar_flow_mol_per_s")
    };
    close(of("N2 1.0"), of("nitrogen"), 1e-12, "nitrogen");
    let air = of("N2 0.781, O2 0.21, Ar 0.009");
    close(air, of("air"), 2e-3, "air from its parts");
    let answer = json(&["leak", "--slit", "1um,10mm", "--wall", "3mm", "--gas", "N2 0.9, He 0.1"]);
    assert!(codes(&answer).contains(&"mixture-as-one-gas"));
}

/// Physics note 7: 2 mL into 50 mL, from 1 atm and 100 Pa, ends at 3993.27 Pa.
#[test]
fn a_headspace_empties_into_its_chamber() {
    let answer = json(&[
        "leak",
        "--bore",
        "5um",
        "--wall",
        "1mm",
        "--downstream",
        "100Pa",
        "--headspace",
        "2mL",
        "--chamber",
        "50mL",
    ]);
    close(number(&answer, "/emptying/final_pressure_pa"), 3993.27, 1e-5, "at rest");
    // Rise of the chamber at the start, Q/V.
    let rate = number(&answer, "/throughput_pa_m3_per_s") / 50e-6;
    close(number(&answer, "/emptying/rise_pa_per_s"), rate, 1e-12, "rise");
}

/// Hand calculation: P A Δp/L = 1e-14 · 1e-4 · 101325/2e-3; L²/(6 D) = 666.7 s.
#[test]
fn gas_permeates_an_elastomer_after_its_time_lag() {
    let answer = json(&[
        "leak",
        "--membrane",
        "1cm2,2mm",
        "--permeability",
        "1e-14 mol/(m.s.Pa)",
        "--diffusion",
        "1e-9m2/s",
        "--after",
        "1min",
        "--after",
        "2d",
    ]);
    let steady = 1e-14 * 1e-4 * 101_325.0 / 2e-3;
    close(number(&answer, "/molar_flow_mol_per_s"), steady, 1e-12, "steady");
    close(number(&answer, "/time_lag_s"), 4e-6 / 6e-9, 1e-12, "time lag");
    assert!(number(&answer, "/states/0/flow_mol_per_s") < 1e-3 * steady);
    close(number(&answer, "/states/1/flow_mol_per_s"), steady, 1e-9, "after two days");
}

#[test]
fn outside_a_law_the_range_and_the_fallback_are_said() {
    for (arguments, code, words) in [
        (
            vec!["--bore", "1um", "--wall", "1mm", "--temperature=-40C"],
            "temperature_outside_checked_range",
            "0 to 40",
        ),
        (
            vec!["--bore", "1um", "--wall", "1mm", "--upstream", "8bar"],
            "pressure_outside_ideal_gas",
            "5 bar",
        ),
        (vec!["--bore", "1mm", "--wall", "10mm"], "laminar_flow_assumed", "upper bound"),
        (vec!["--bore", "2nm", "--wall", "1mm"], "opening_of_few_molecules", "5 nm"),
        (
            vec!["--slit", "10nm,10mm", "--wall", "3mm", "--upstream", "100Pa"],
            "slit_more_rarefied_than_table",
            "0.001",
        ),
        (
            vec!["--slit", "10um,10mm", "--wall", "0.1mm"],
            "slit_of_finite_depth_untested",
            "no simulation",
        ),
    ] {
        let mut all = vec!["leak"];
        all.extend(&arguments);
        let answer = json(&all);
        let notes = answer["notes"].as_array().unwrap();
        let note = notes.iter().find(|note| note["code"] == code);
        let note = note.unwrap_or_else(|| panic!("{arguments:?}: no {code} in {notes:?}"));
        assert!(note["text"].as_str().unwrap().contains(words), "{note}");
        assert!(!note["next_step"].as_str().unwrap().is_empty(), "{note}");
    }
}

#[test]
fn impossible_physics_is_refused_with_the_reason() {
    refused(&["leak", "--bore", "5um", "--orifice", "--upstream=-3mbar"], &["vacuum"]);
    refused(
        &["leak", "--bore", "5um", "--wall", "1mm", "--liquid", "water", "--temperature=-5C"],
        &["frozen"],
    );
    refused(
        &["leak", "--bore", "5um", "--wall", "1mm", "--liquid", "water", "--temperature", "90C"],
        &["table"],
    );
    refused(&["leak", "--bore", "5um", "--orifice", "--temperature=-300C"], &["-300C"]);
    refused(&["leak", "--slit", "10mm,1um", "--wall", "3mm"], &["high", "wide"]);
    refused(
        &["leak", "--flow", "1 sccm@0C", "--wall", "1mm", "--downstream", "2atm"],
        &["does not exceed"],
    );
    refused(&["leak", "--flow", "1 sccm@0C"], &["shape", "--wall"]);
    refused(&["leak", "--bore", "5um"], &["--wall"]);
    refused(&["leak"], &["--bore"]);
    refused(&["leak", "--bore", "1um", "--wall", "1mm", "--gas", "N2 0.9, O2 0.3"], &["sum"]);
    refused(&["leak", "--certificate", "1 sccm@0C, air", "--wall", "1mm"], &["pressure"]);
    refused(
        &["leak", "--bore", "1um", "--wall", "1mm", "--downstream", "1atm", "--fill-volume", "1mL"],
        &["nothing fills"],
    );
    refused(
        &["leak", "--membrane", "1cm2,2mm", "--permeability", "1e-14"],
        &["unit", "mol/(m.s.Pa)"],
    );
    refused(&["leak", "--bore", "1um", "--wall", "1mm", "--then", "pinhole"], &["pinhole"]);
}

//! `import` and `export` of runs: shown, stored, refused, and back as tables.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use super::{isobar, json, root};

/// A benchbook of the demo in a folder of its own.
fn demo() -> (tempfile::TempDir, String) {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("demo");
    super::demo_into(&folder);
    let book = folder.join("demo.benchbook").to_string_lossy().into_owned();
    (scratch, book)
}

#[test]
fn results_without_traces_are_shown_with_what_their_counters_leave_open() {
    let answer = json(&["import", "examples/unit_results.csv"]);
    assert_eq!(answer["stored"], false);
    let runs = answer["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 6);
    assert_eq!(runs[0]["rise_pa"], 11.8);
    assert_eq!(
        (runs[4]["censored"].clone(), runs[5]["censored"].clone()),
        (true.into(), false.into())
    );
    assert!(runs[5]["ended"].as_str().unwrap().contains("lid seal not closed"));
    // Cycle 106 of the invented rig is missing.
    assert!(answer["open_items"][0].as_str().unwrap().contains("cycle 106 is missing"));
}

#[test]
fn runs_are_stored_once_with_their_originals_and_open_items() {
    let (scratch, book) = demo();
    let before = json(&["verify", &book])["runs"].as_u64().unwrap();
    let store = |file: &str| {
        ["import", file, "--benchbook", &book, "--case", "lyo-2r", "--json"]
            .map(str::to_owned)
            .to_vec()
    };
    let run = |arguments: Vec<String>| {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        isobar(&arguments)
    };
    let output = run(store("examples/unit_results.csv"));
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["stored"], true);
    let verified = json(&["verify", &book]);
    assert_eq!(verified["runs"].as_u64().unwrap(), before + 6);
    let items = json(&["items", &book, "--case", "lyo-2r"]);
    assert!(items.to_string().contains("cycle 106 is missing"), "{items}");
    let attached = json(&["attach", &book, "--case", "lyo-2r"]);
    assert!(attached.to_string().contains("unit_results.csv"), "{attached}");

    // The same bytes under another name: refused, exit code 3, said in JSON.
    let copy = scratch.path().join("renamed.csv");
    std::fs::copy(root().join("examples/unit_results.csv"), &copy).unwrap();
    let output = run(store(copy.to_str().unwrap()));
    assert_eq!(output.status.code(), Some(3));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["files"][0]["outcome"], "refused");
    let codes = answer["files"][0]["messages"].to_string();
    assert!(codes.contains("INT-049"), "{codes}");

    // The missing cycle comes in late, which is open as well.
    let late = scratch.path().join("late.csv");
    let text = "unit,class,rig,cycle,reading [Pa]\nN-03,negative,RIG-7,106,12.5\n";
    std::fs::write(&late, text).unwrap();
    assert!(run(store(late.to_str().unwrap())).status.success());
    let items = json(&["items", &book, "--case", "lyo-2r"]);
    assert!(items.to_string().contains("came late"), "{items}");

    // A trace whose class nobody said is not stored.
    let output = run(store("examples/trace.csv"));
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--class"));

    let tables = scratch.path().join("tables");
    let answer = json(&[
        "export",
        &book,
        "--case",
        "lyo-2r",
        "--format",
        "csv",
        "-o",
        tables.to_str().unwrap(),
    ]);
    assert_eq!(answer["tables"].as_array().unwrap().len(), 3);
    let text = std::fs::read_to_string(tables.join("runs.csv")).unwrap();
    assert_eq!(text.lines().count() as u64, answer["runs"].as_u64().unwrap() + 1);
    assert!(text.contains("lid seal not closed"));
    let workbook = scratch.path().join("lyo.xlsx");
    let workbook = workbook.to_str().unwrap();
    json(&["export", &book, "--case", "lyo-2r", "--format", "xlsx", "-o", workbook]);
    let bytes = std::fs::read(workbook).unwrap();
    let sheets = intake::workbook::read_workbook(&bytes).unwrap();
    assert_eq!(sheets.len(), 3);
}

/// A near copy of a run that the case has already is named, although its
/// bytes differ.
#[test]
fn a_near_copy_of_a_stored_run_is_noticed() {
    let (scratch, book) = demo();
    let text = std::fs::read_to_string(root().join("examples/trace.csv")).unwrap();
    let first = scratch.path().join("first.csv");
    std::fs::write(&first, &text).unwrap();
    let store = |path: &std::path::Path| {
        let output = isobar(&[
            "import",
            path.to_str().unwrap(),
            "--benchbook",
            &book,
            "--case",
            "lyo-2r",
            "--class",
            "negative",
            "--json",
        ]);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        answer["files"][0]["messages"].to_string()
    };
    assert!(!store(&first).contains("INT-049"));
    // One row rounded, and a line before the data.
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let row = lines.len() - 5;
    lines[row].push('1');
    let copy = scratch.path().join("another_unit.csv");
    std::fs::write(&copy, format!("# another unit\n{}\n", lines.join("\n"))).unwrap();
    let said = store(&copy);
    assert!(said.contains("INT-049") && said.contains("of the case (first)"), "{said}");
}

#[test]
fn one_refused_file_refuses_all_and_names_its_place() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(root().join("examples/trace.csv"), folder.path().join("good.csv")).unwrap();
    std::fs::write(folder.path().join("bad.csv"), "time_s,p [Pa]\n0,1\n1,high\n2,3\n").unwrap();
    let output = isobar(&["import", folder.path().to_str().unwrap(), "--json"]);
    assert_eq!(output.status.code(), Some(3));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["files"][0]["outcome"], "refused");
    assert_eq!(answer["files"][0]["messages"][0]["line"], 3);
    assert_eq!(answer["files"][1]["outcome"], "read");
    assert_eq!(answer["runs"].as_array().unwrap().len(), 0);
    // What is open is an error that names the option, where nobody can answer.
    std::fs::write(folder.path().join("bad.csv"), "time_s,CH2\n0,1\n1,2\n2,3\n").unwrap();
    let output = isobar(&["import", folder.path().to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&output.stdout).contains("--reading"));
}

/// Research note 1.1: seven logs of two chambers; the header names no unit.
#[test]
fn every_real_log_of_a_pattern_is_imported() {
    let folder = root().join("../shared/data/pressure");
    if !folder.is_dir() {
        println!("notice: the folder of real logs is absent, so this test checks nothing");
        return;
    }
    let pattern = folder.join("am4space*.csv");
    let answer = json(&[
        "import",
        pattern.to_str().unwrap(),
        "--pressure",
        "CH2=mbar",
        "--pressure",
        "CH3=mbar",
        "--temperature",
        "T1=C",
    ]);
    assert_eq!(answer["files"].as_array().unwrap().len(), 7);
    assert!(answer["runs"].as_array().unwrap().len() >= 14);
    let pattern = folder.join("bmp180*.log");
    let answer =
        json(&["import", pattern.to_str().unwrap(), "--pressure", "BMP180_Pressure=0.1Pa"]);
    assert_eq!(answer["files"].as_array().unwrap().len(), 4);
}

/// Aged controls by option and by table: the age stays with the run, and what is
/// missing is named.
#[test]
fn aged_controls_are_imported_with_their_age() {
    let scratch = tempfile::tempdir().unwrap();
    let table = scratch.path().join("aged.csv");
    let path = table.to_str().unwrap();
    std::fs::write(
        &table,
        "unit,class,size [um],age days,reading [Pa]\nA01,aged,10,0,40\nA01,aged,10,30,12\n",
    )
    .unwrap();
    let answer = json(&["import", path]);
    let ages: Vec<u64> = answer["runs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|run| {
            assert_eq!((&run["class"], &run["size_um"]), (&"aged control".into(), &10.0.into()));
            run["age_days"].as_u64().unwrap()
        })
        .collect();
    assert_eq!(ages, [0, 30]);
    let trace = json(&["import", "examples/trace.csv", "--class", "aged", "--age-days", "90"]);
    assert_eq!(trace["runs"][0]["age_days"], 90);
    assert!(trace["runs"][0]["size_um"].is_null());
    let output = isobar(&["import", "examples/trace.csv", "--class", "aged"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--age-days"));
}

/// A flow challenge names its standard, by option or by table, and the flow
/// calibration record says of each whether the register knows it.
#[test]
fn flow_challenges_name_their_standard() {
    let (scratch, book) = demo();
    let flow = ["--class", "flow", "--flow", "2e-5Pa.m3/s", "--standard", "FS-1"];
    let trace = json(&[&["import", "examples/trace.csv"], &flow[..]].concat());
    assert_eq!(trace["runs"][0]["standard"], "FS-1");
    let table = scratch.path().join("flows.csv");
    let path = table.to_str().unwrap();
    std::fs::write(
        &table,
        "unit,class,flow [Pa.m3/s],flow standard,reading [Pa]\n\
         F1,flow,2e-6,FS-2,40\nF2,flow,4e-6,,80\nN1,negative,,,5\n",
    )
    .unwrap();
    let case = ["--benchbook", &book, "--case", "lyo-2r"];
    let kept = json(&[&["import", path, "--standard", "FS-1"], &case[..]].concat());
    let named = |run: usize| kept["runs"][run]["standard"].as_str().unwrap();
    assert_eq!([named(0), named(1), named(2)], ["FS-2", "FS-1", ""]);
    let page = scratch.path().join("record.html");
    let page = page.to_str().unwrap();
    json(&["report", &book, "--case", "lyo-2r", "--document", "flow", "-o", page]);
    let text = std::fs::read_to_string(page).unwrap();
    assert!(text.contains("the register has no flow standard of this name"));
    // Without a flow challenge the option is a mistake.
    let output = isobar(&["import", "examples/trace.csv", "--class", "blank", "--standard", "X"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--standard"));
}

/// What was exported comes back as it was, in every format: numbers, words,
/// classes, ends, and as many samples.
#[test]
fn an_export_is_imported_again_and_nothing_is_lost() {
    let (scratch, book) = demo();
    let csv = scratch.path().join("csv");
    let parquet = scratch.path().join("parquet");
    let workbook = scratch.path().join("runs of a case.xlsx");
    let mut answers = Vec::new();
    for (format, path) in [("csv", &csv), ("parquet", &parquet), ("xlsx", &workbook)] {
        let path = path.to_str().unwrap();
        json(&["export", &book, "--case", "lyo-2r", "--format", format, "-o", path]);
        answers.push(json(&["import", path]));
    }
    // Back to the case from which it came it brings no run, in whatever format
    // and under whatever name.
    let renamed = scratch.path().join("another name.xlsx");
    std::fs::copy(&workbook, &renamed).unwrap();
    for path in [&csv, &parquet, &renamed] {
        let path = path.to_str().unwrap();
        let output = isobar(&["import", path, "--benchbook", &book, "--case", "lyo-2r", "--json"]);
        assert_eq!(output.status.code(), Some(3), "{path}");
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(told.contains("INT-049") && told.contains("are in the case already"), "{told}");
    }
    // Without its samples a run would lose its trace.
    let alone = scratch.path().join("runs.csv");
    std::fs::copy(csv.join("runs.csv"), &alone).unwrap();
    let output = isobar(&["import", alone.to_str().unwrap(), "--json"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(String::from_utf8_lossy(&output.stdout).contains("samples of"), "{output:?}");

    let table = std::fs::read_to_string(csv.join("runs.csv")).unwrap();
    let samples = std::fs::read_to_string(csv.join("samples.csv")).unwrap();
    let n_runs = table.lines().count() - 1;
    let header: Vec<&str> = table.lines().next().unwrap().split(',').collect();
    let rise = header.iter().position(|name| name.starts_with("rise_pa")).unwrap();
    for answer in &answers {
        let runs = answer["runs"].as_array().unwrap();
        assert_eq!(runs.len(), n_runs);
        let n_samples: u64 = runs.iter().map(|run| run["samples"].as_u64().unwrap()).sum();
        assert_eq!(n_samples as usize, samples.lines().count() - 1);
        for (run, line) in runs.iter().zip(table.lines().skip(1)) {
            let written = line.split(',').nth(rise).unwrap().parse::<f64>().ok();
            assert_eq!(run["rise_pa"].as_f64(), written, "{line}");
        }
        for key in ["unit", "class", "size_um", "day", "ended", "slope_pa_per_s"] {
            let of = |answer: &serde_json::Value| -> Vec<serde_json::Value> {
                answer["runs"].as_array().unwrap().iter().map(|run| run[key].clone()).collect()
            };
            assert_eq!(of(answer), of(&answers[0]), "{key}");
        }
    }
}

/// Two gauges of one chamber are no two units: which column is a run is asked
/// before anything is stored, and the answer is an option.
#[test]
fn two_columns_of_pressure_are_asked_about() {
    let (scratch, book) = demo();
    let text = std::fs::read_to_string(root().join("examples/trace.csv")).unwrap();
    let mut rows = text.lines().filter(|line| !line.starts_with('#'));
    let time = rows.next().unwrap().split(',').next().unwrap();
    let mut both = format!("{time},P1 [Pa],P2 [Pa]\n");
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        both.push_str(&format!("{},{1},{1}1\n", cells[0], cells[1]));
    }
    let file = scratch.path().join("two.csv");
    std::fs::write(&file, both).unwrap();
    let import = |more: &[&str]| {
        let path = file.to_str().unwrap();
        let place = ["import", path, "--benchbook", &book, "--case", "lyo-2r", "--json"];
        let output = isobar(&[&place[..], &["--class", "negative"], more].concat());
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        (output.status.code().unwrap(), answer)
    };
    let (code, answer) = import(&[]);
    assert_eq!(code, 3, "{answer:#}");
    let told = answer["files"][0]["messages"].to_string();
    assert!(told.contains("`P1 [Pa]`, `P2 [Pa]`") && told.contains("--pressure"), "{told}");
    assert_eq!(answer["stored"], false);
    let (code, answer) = import(&["--pressure", "P2 [Pa]=Pa"]);
    assert_eq!((code, answer["runs"].as_array().unwrap().len()), (0, 1), "{answer:#}");
}

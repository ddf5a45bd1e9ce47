//! Families of dirty input that only the door can tell: the phases of a cycle,
//! files that came before, clocks from the future, tones, and one bad file
//! among many. The other families: `crates/intake/tests/dirty_files.rs`.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::{isobar, json, root};

/// An invented cycle: pumped down, isolated at 10 s, a rise with a small
/// ripple of `hum_pa` at 2 Hz; 20 samples per second up to `end_s`.
fn cycle(rise_pa_per_s: f64, hum_pa: f64, end_s: f64) -> String {
    let mut text = String::from("# invented\ntime_s,p [Pa]\n");
    let mut state = 12_345_u64;
    for row in 0..(end_s * 20.0) as usize {
        let t = row as f64 * 0.05;
        // A plain generator is enough for noise in a made-up file.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let noise = ((state >> 33) as f64 / (1_u64 << 31) as f64 - 0.5) * 0.4;
        let level = if t < 10.0 {
            1.0e5 * digits::scalar::exp(-t) + 100.0
        } else {
            104.0 + rise_pa_per_s * (t - 10.0)
        };
        let hum = hum_pa * digits::scalar::sin(std::f64::consts::TAU * 2.0 * t);
        text.push_str(&format!("{t:.2},{:.4}\n", level + noise + hum));
    }
    text
}

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

fn import(arguments: &[&str]) -> (i32, Value) {
    let arguments = [&["import"], arguments, &["--json"]].concat();
    let output = isobar(&arguments);
    let answer = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)));
    (output.status.code().unwrap(), answer)
}

/// The note of a code, which names its file, and says this place.
fn note_at(answer: &Value, code: &str, file: &str, place: &str) -> bool {
    answer["notes"].as_array().unwrap().iter().any(|note| {
        let text = note["text"].as_str().unwrap();
        note["code"] == code && text.contains(file) && text.contains(place)
    })
}

/// The note of a code, which names its file.
fn note(answer: &Value, code: &str, file: &str) -> bool {
    answer["notes"].as_array().unwrap().iter().any(|note| {
        let text = note.to_string();
        text.contains(code) && text.contains(file)
    })
}

/// The line that the note of a code says.
fn line_of(answer: &Value, code: &str, file: &str) -> u64 {
    let notes = answer["notes"].as_array().unwrap();
    let text = notes
        .iter()
        .filter(|note| note["code"] == code)
        .filter_map(|note| note["text"].as_str())
        .find(|text| text.contains(file))
        .unwrap_or_else(|| panic!("no {code}: {answer:#}"));
    let after = text.split("line ").nth(1).unwrap_or_else(|| panic!("no line: {text}"));
    after.split(',').next().unwrap().parse().unwrap()
}

/// In a workbook a place is a sheet and a cell, in Parquet a row group and a
/// row: a line of the text made of it stands nowhere.
#[test]
fn places_of_workbooks_and_parquet_files_are_theirs() {
    let folder = tempfile::tempdir().unwrap();
    let times: Vec<Option<f64>> = (0..40).map(|row| Some(f64::from(row))).collect();
    let mut levels = times.clone();
    levels[20] = Some(-12.5);
    let grid = intake::run_table::Grid {
        name: "log".to_owned(),
        columns: vec![
            intake::run_table::GridColumn::numbers("time_s", "s", times),
            intake::run_table::GridColumn::numbers("p_mbar", "mbar", levels),
        ],
    };
    let book = intake::workbook::write_workbook(std::slice::from_ref(&grid)).unwrap();
    let parquet = intake::parquet_file::write_parquet(&grid).unwrap();
    for (name, bytes, place) in [
        ("log.xlsx", book, "(sheet \"log\", cell B22, row 22, column 2"),
        ("log.parquet", parquet, "(row group 1, row 21, column 2"),
    ] {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        let (code, answer) = import(&[path.to_str().unwrap()]);
        assert_eq!(code, 3, "{answer:#}");
        let messages = &answer["files"][0]["messages"];
        assert!(messages.to_string().contains("INT-054"), "{answer:#}");
        let text = messages.as_array().unwrap().last().unwrap()["text"].as_str().unwrap();
        assert!(text.contains(place), "{text}");
        // `examine` comes in by the same door.
        let output = isobar(&["examine", path.to_str().unwrap()]);
        assert!(String::from_utf8_lossy(&output.stderr).contains(place));
    }
}

/// A file on which the library panics (found by fuzzing) is refused by its code,
/// and nothing of the library's stack is shown.
#[test]
fn a_parquet_file_that_breaks_the_library_is_refused_in_words() {
    let seed = "fuzz/seeds/parquet_files/index_out_of_bounds.parquet";
    let output = isobar(&["import", seed]);
    assert_eq!(output.status.code(), Some(3));
    let told = [output.stdout, output.stderr].concat();
    let told = String::from_utf8_lossy(&told);
    assert!(told.contains("INT-051") && told.contains("cannot be read"), "{told}");
    assert!(!told.contains("panicked") && !told.contains("stack backtrace"), "{told}");
}

#[test]
fn family_44_the_missing_phase_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let whole = write(folder.path(), "whole.csv", &cycle(2.0, 0.0, 40.0));
    // Cut before the isolation; and begun after the evacuation.
    let cut = write(folder.path(), "cut.csv", &cycle(2.0, 0.0, 9.0));
    let text = cycle(2.0, 0.0, 40.0);
    let late: Vec<&str> = text.lines().take(2).chain(text.lines().skip(2 + 220)).collect();
    let late = write(folder.path(), "late.csv", &late.join("\n"));
    // Two lines stand before 180 samples, of which the last one shows that the
    // record ends; of the other its first sample shows that it begins late.
    for (path, phase, place) in [
        (&cut, "never isolated", "(line 182, column 2, \"p [Pa]\")"),
        (&late, "no evacuation", "(line 3, column 2, \"p [Pa]\")"),
    ] {
        let (_, answer) = import(&[path.to_str().unwrap()]);
        let name = path.file_name().unwrap().to_str().unwrap();
        assert!(note_at(&answer, "INT-044", name, place), "{answer:#}");
        assert!(answer["runs"][0]["ended"].as_str().unwrap().contains(phase), "{answer:#}");
    }
    let (_, answer) = import(&[whole.to_str().unwrap()]);
    assert!(!note(&answer, "INT-044", "whole.csv"), "{answer:#}");
}

#[test]
fn family_49_a_copy_is_refused_and_a_near_copy_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let text = cycle(2.0, 0.0, 40.0);
    write(folder.path(), "a.csv", &text);
    write(folder.path(), "b.csv", &text);
    let edited = text.replacen("104.", "104.1", 1);
    write(folder.path(), "c.csv", &edited);
    let (code, answer) = import(&[folder.path().to_str().unwrap()]);
    assert_eq!(code, 3);
    let of = |index: usize| answer["files"][index]["messages"].to_string();
    assert!(!of(0).contains("INT-049") && of(1).contains("INT-049"), "{answer:#}");
    assert_eq!(answer["files"][1]["outcome"], "refused");
    assert_eq!(answer["files"][2]["outcome"], "read");
    assert!(
        of(2).contains("INT-049") && of(2).contains("of the samples are those of"),
        "{answer:#}"
    );
}

#[test]
fn family_53_a_file_from_the_future_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String =
        (0..40).map(|row| format!("2199-03-01 08:00:{:02},{}.5\n", row, 1000 - row * 3)).collect();
    let path = write(folder.path(), "future.csv", &format!("when,p [mbar]\n{rows}"));
    let (code, answer) = import(&[path.to_str().unwrap()]);
    assert_eq!(code, 3);
    let messages = answer["files"][0]["messages"].to_string();
    assert!(messages.contains("INT-053") && messages.contains("--accept-clock"), "{messages}");
    let message = answer["files"][0]["messages"]
        .as_array()
        .unwrap()
        .iter()
        .find(|message| message["code"] == "INT-053")
        .unwrap();
    assert_eq!((message["line"].clone(), message["column"].clone()), (2.into(), 1.into()));
    let (code, _) = import(&[path.to_str().unwrap(), "--accept-clock"]);
    assert_eq!(code, 0);
    // `examine` reads it and says it.
    let answer = json(&["examine", path.to_str().unwrap()]);
    let place = "(line 2, column 1, \"when\")";
    assert!(note_at(&answer, "INT-053", "future.csv", place), "{answer:#}");
}

#[test]
fn family_55_a_tone_is_named_and_left_in() {
    let folder = tempfile::tempdir().unwrap();
    let hum = write(folder.path(), "hum.csv", &cycle(2.0, 0.6, 40.0));
    let still = write(folder.path(), "still.csv", &cycle(2.0, 0.0, 40.0));
    let (_, answer) = import(&[hum.to_str().unwrap()]);
    // Measuring begins at the isolation at 10 s, which stands in line 203; a hum of
    // half a second blurs the bend by half of that.
    let line = line_of(&answer, "INT-055", "hum.csv");
    assert!((198..600).contains(&line), "{line}: {answer:#}");
    assert!(note_at(&answer, "INT-055", "hum.csv", "column 2, \"p [Pa]\""), "{answer:#}");
    assert!(answer["notes"].to_string().contains("0.5"), "its period of half a second");
    let (_, answer) = import(&[still.to_str().unwrap()]);
    assert!(!note(&answer, "INT-055", "still.csv"), "{answer:#}");
}

#[test]
fn family_56_one_bad_file_among_many_is_named_and_can_be_left_out() {
    let folder = tempfile::tempdir().unwrap();
    for number in 0..120 {
        let name = format!("run_{number:03}.csv");
        write(folder.path(), &name, &cycle(1.0 + 0.01 * f64::from(number), 0.0, 14.0));
    }
    write(folder.path(), "run_060.csv", "time_s,p [Pa]\n0,1\n1,high\n2,3\n");
    let folder = folder.path().to_str().unwrap();
    let (code, answer) = import(&[folder]);
    assert_eq!(code, 3);
    assert!(note(&answer, "INT-056", "run_060.csv"), "{}", answer["notes"]);
    assert_eq!(answer["runs"].as_array().unwrap().len(), 0, "all or nothing");
    let outcomes: Vec<&str> = answer["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|file| file["outcome"].as_str().unwrap())
        .collect();
    assert_eq!(outcomes.iter().filter(|outcome| **outcome == "refused").count(), 1);
    let bad = &answer["files"][60]["messages"][0];
    assert_eq!((bad["line"].clone(), bad["column"].clone()), (3.into(), 2.into()));

    let (code, answer) = import(&[folder, "--skip-refused"]);
    assert_eq!(code, 3, "something was refused, and that stays the answer");
    assert_eq!(answer["runs"].as_array().unwrap().len(), 119);
    assert!(note(&answer, "INT-056", "run_060.csv"));
}

/// What a plan can say, an option can say.
#[test]
fn how_a_file_is_written_can_be_said_in_options() {
    let folder = tempfile::tempdir().unwrap();
    let dates: String =
        (1..13).map(|row| format!("03/04/2026 10:00:{row:02},{}.5\n", 900 - row)).collect();
    let dates = write(folder.path(), "dates.csv", &format!("when,p [mbar]\n{dates}"));
    let thousands: String = (1..13).map(|row| format!("{row};1.{:03}\n", 299 + row)).collect();
    let thousands = write(folder.path(), "thousands.csv", &format!("t [s];p [mbar]\n{thousands}"));
    let missing: String = (1..13)
        .map(|row| format!("{row},{}\n", if row == 5 { "-999".into() } else { format!("{row}.5") }))
        .collect();
    let missing = write(folder.path(), "missing.csv", &format!("t [s],p [mbar]\n{missing}"));
    for (path, code, options) in [
        // What is open is an error that names the option.
        (&dates, "INT-026", vec!["--clock", "when=day month year"]),
        (&thousands, "INT-009", vec!["--decimal-mark", "point"]),
        (&missing, "INT-014", vec!["--missing", "-999"]),
    ] {
        let path = path.to_str().unwrap();
        let (exit, answer) = import(&[path]);
        assert_eq!(exit, 3, "{path}");
        let messages = answer["files"][0]["messages"].to_string();
        assert!(messages.contains(code) && messages.contains(options[0]), "{answer:#}");
        let mut arguments = vec![path];
        arguments.extend(options);
        assert_eq!(import(&arguments).0, 0, "{arguments:?}");
    }
    let output = isobar(&["import", missing.to_str().unwrap(), "--encoding", "latin"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("shift-jis"));
}

/// On a terminal the open choice is asked for, and the answer is taken; an
/// empty answer refuses.
#[test]
fn a_question_is_asked_on_a_terminal() {
    use std::io::Write;
    use std::process::{Command, Stdio};
    if Command::new("script").arg("--version").output().is_err() {
        println!("notice: there is no `script` here, so nobody can be asked");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let rows: String = (0..30).map(|row| format!("{row},{}.5\n", 900 - row)).collect();
    let path = write(folder.path(), "open.csv", &format!("time_s,CH2\n{rows}"));
    let shown = |answers: &str| {
        let command = format!("'{}' import '{}'", env!("CARGO_BIN_EXE_isobar"), path.display());
        let mut child = Command::new("script")
            .args(["-qec", &command, "/dev/null"])
            .current_dir(root())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut terminal = child.stdin.take().unwrap();
        terminal.write_all(answers.as_bytes()).unwrap();
        drop(terminal);
        let output = child.wait_with_output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let (code, text) = shown("CH2=mbar\n");
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("pressure column and unit") && text.contains("CH2=mbar"), "{text}");
    let (code, text) = shown("\n");
    assert_eq!(code, Some(3), "{text}");
    assert!(text.contains("INT-301"), "{text}");
}

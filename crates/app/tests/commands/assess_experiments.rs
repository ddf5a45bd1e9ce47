//! `assess robustness` against published designs, and `assess next-size` by
//! hand and by planted truth.

use super::assess_reference::{check, run, table};
use super::number;

const FILE: &str = "statistics_experiments.csv";

fn effect(answer: &serde_json::Value, name: &str) -> f64 {
    let list = answer["responses"][0]["effects"].as_array().unwrap();
    list.iter().find(|row| row["effect"] == name).unwrap()["value"].as_f64().unwrap()
}

#[test]
fn filtration_rate_of_montgomery() {
    let Some(path) = table("filtration_2to4.csv") else { return };
    let answer = run(&format!(
        "assess robustness {path} --factor A --factor B --factor C --factor D --response rate"
    ));
    for name in ["A", "B", "C", "D", "A:C", "A:D"] {
        check(FILE, &format!("filt_{name}"), effect(&answer, name));
    }
    let error = number(&answer, "/responses/0/effects/0/standard_error");
    check(FILE, "filt_lenth_pse", error);
}

#[test]
fn composite_design_in_blocks() {
    let Some(path) = table("chemreact_ccd.csv") else { return };
    let answer = run(&format!(
        "assess robustness {path} --factor Time=80,90 --factor Temp=170,180 --block Block \
         --response Yield"
    ));
    for (row, at) in [
        ("ccd_b1", "/linear/0"),
        ("ccd_b2", "/linear/1"),
        ("ccd_b11", "/quadratic/0/0"),
        ("ccd_b22", "/quadratic/1/1"),
        ("ccd_xs1", "/level_point/0"),
        ("ccd_xs2", "/level_point/1"),
        ("ccd_ev1", "/eigenvalues/0"),
        ("ccd_ev2", "/eigenvalues/1"),
    ] {
        check(FILE, row, number(&answer, &format!("/responses/0/surface{at}")));
    }
    let mixed = 2.0 * number(&answer, "/responses/0/surface/quadratic/0/1");
    check(FILE, "ccd_b12", mixed);
}

/// The half fraction was made with D = ABC: the aliasing is read back from
/// the table, and the planted effects stand out.
#[test]
fn a_fraction_names_its_aliases() {
    let answer = run(
        "assess robustness examples/half_fraction.csv --factor settle_s --factor pump_s --factor \
         room_c --factor load --response rise_pa",
    );
    let aliasing = &answer["responses"][0]["aliasing"];
    assert_eq!(aliasing["resolution"], 4);
    assert_eq!(aliasing["defining_relation"][0], "ABCD");
    let shared = aliasing["shared"].as_array().unwrap();
    let pair = shared.iter().find(|row| row["effect"] == "settle_s:pump_s").unwrap();
    assert_eq!(pair["with"][0], "room_c:load");
    // Planted: -1.9 and 1.1 for each coded unit, noise 0.25.
    assert!((effect(&answer, "settle_s") + 3.8).abs() < 0.8);
    assert!((effect(&answer, "room_c") - 2.2).abs() < 0.8);
    let list = answer["responses"][0]["effects"].as_array().unwrap();
    let out: Vec<&str> = list
        .iter()
        .filter(|row| row["stands_out"] == true)
        .filter_map(|row| row["effect"].as_str())
        .collect();
    assert_eq!(out, ["settle_s", "room_c"]);
}

/// A design written and read back has the runs of the design.
#[test]
fn a_written_design_is_whole() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("d.csv");
    let line = |kind: &str| {
        format!(
            "assess robustness --design {kind} --factor a=1,3 --factor b=-2,2 --factor c=10,20 -o {}",
            path.display()
        )
    };
    for (kind, n) in [
        ("full", 8),
        ("fractional --generator C=AB", 4),
        ("screening", 12),
        ("central-composite --centres 3", 17),
        ("definitive-screening", 9),
    ] {
        let answer = run(&line(kind));
        assert_eq!(answer["n"], n, "{kind}");
        let text = std::fs::read_to_string(&path).unwrap();
        assert_eq!(text.lines().count(), n + 1, "{kind}");
        assert!(text.starts_with("run,standard_order,a,b,c,result\n"), "{text}");
        if kind != "central-composite --centres 3" {
            assert_eq!(number(&answer, "/largest_overlap"), 0.0, "{kind}");
        }
        let filled: String = text
            .lines()
            .enumerate()
            .map(|(i, line)| match i {
                0 => format!("{line}\n"),
                _ => format!("{line}{}\n", (i * i) % 7),
            })
            .collect();
        let full = scratch.path().join("f.csv");
        std::fs::write(&full, filled).unwrap();
        if kind.starts_with("fractional") {
            continue;
        }
        let answer = run(&format!(
            "assess robustness {} --factor a --factor b --factor c --response result",
            full.display()
        ));
        assert_eq!(answer["n"], n, "{kind}");
        assert_eq!(number(&answer, "/factors/1/low"), -2.0, "{kind}");
    }
}

/// The chance of success falls to a half where the surface meets the limit.
#[test]
fn chance_of_success() {
    let line = "assess robustness examples/settings.csv --factor settle_s=1,3 --factor pump_s=8,12 \
                --response rise_pa --criterion";
    let answer = run(&format!("{line} rise_pa<=30"));
    assert!(number(&answer, "/success/worst") > 0.99);
    let constant = number(&answer, "/responses/0/surface/constant");
    let answer = run(&format!("{line} rise_pa<={constant}"));
    assert!((number(&answer, "/success/centre") - 0.5).abs() < 1e-9);
}

/// By hand: between a miss at 2 and a hit at 8 the middle of the ratio is 4.
#[test]
fn the_gap_is_halved() {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), "size,hit\n2,0\n8,1\n").unwrap();
    let path = file.path().display();
    let line = format!(
        "assess next-size {path} --size size --hit hit --available 2,3,4,6,8 --critical 6 \
         --studies 0"
    );
    let answer = run(&line);
    assert_eq!(number(&answer, "/next_size"), 4.0);
    assert_eq!(answer["phase"], "bracket");
    assert_eq!(answer["stop"], false);
    let answer = run(&format!("{line} --most-units 2 --fewest-units 2"));
    assert_eq!(answer["outcome"], "stop: not shown");
}

/// A study with a clear curve ends with yes, and its rule is wrong seldom.
#[test]
fn a_clear_study_stops() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let rows = "size,hits,of\n2,1,12\n3,5,12\n4,10,12\n6,12,12\n8,12,12\n";
    std::fs::write(file.path(), rows).unwrap();
    let answer = run(&format!(
        "assess next-size {} --size size --hit hits --of of --available 2,3,4,6,8 --critical 8 \
         --studies 60",
        file.path().display()
    ));
    assert_eq!(answer["outcome"], "stop: shown");
    assert!(number(&answer, "/upper_bound") < 8.0);
    let rows = answer["simulated"].as_array().unwrap();
    // Far above the critical size a yes is wrong and rare; far below it is
    // right and common.
    assert!(rows[0]["passing_is_wrong"] == true && rows[0]["passed"].as_f64().unwrap() < 0.2);
    assert!(rows[3]["passing_is_wrong"] == false && rows[3]["passed"].as_f64().unwrap() > 0.8);
}

/// Two factors, each corner run twice. By hand: the squares within corners are
/// 2 + 0 + 2 + 2 = 6 with 4 degrees of freedom, so s² = 1.5 and the standard
/// error of an effect 2·sqrt(1.5)/sqrt(8) = 0.866025; t(0.975; 4) = 2.776445
/// (printed table). The small effects alone (Lenth) would let nothing stand out.
#[test]
fn repeated_corners_give_the_error() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("t.csv");
    let text = "a,b,y\n-1,-1,10\n1,-1,15\n-1,1,11\n1,1,20\n-1,-1,12\n1,-1,15\n-1,1,13\n1,1,18\n";
    std::fs::write(&path, text).unwrap();
    let line =
        format!("assess robustness {} --factor a --factor b --response y", path.to_str().unwrap());
    let answer = run(&line);
    for (name, value, out) in [("a", 5.5, true), ("b", 2.5, true), ("a:b", 1.5, false)] {
        assert_eq!(effect(&answer, name), value);
        let list = answer["responses"][0]["effects"].as_array().unwrap();
        let row = list.iter().find(|row| row["effect"] == name).unwrap();
        assert_eq!(row["stands_out"], out, "{row}");
        assert!((row["standard_error"].as_f64().unwrap() - 0.866_025_403_784).abs() < 1e-9);
        assert!((row["margin"].as_f64().unwrap() - 2.404_472).abs() < 2e-6, "{row}");
    }
    assert_eq!(answer["responses"][0]["residual_df"], 4.0);
    let wording = answer["wording"].as_str().unwrap();
    assert!(wording.contains("error from repeated runs (4 degrees of freedom)"), "{wording}");
    assert!(wording.contains("without a new set-up"), "{wording}");
}

//! Cycles of two tiers from files without a stage column: the run ends as the limits
//! of the method say. Case and traces are invented.

use super::{json, root};

/// The liquid vial with a tier for gross leaks before its own.
fn case(folder: &std::path::Path) -> String {
    let text = std::fs::read_to_string(root().join("examples/liquid_vial.toml")).unwrap();
    let coarse = "[[cycle.tier]]\n\
        purpose = \"gross leaks\"\n\
        evacuate_to = \"30 kPa\"\n\
        evacuate_limit = \"5 s\"\n\
        reach_limit = \"33 kPa\"\n\
        settle = \"1 s\"\n\
        measure = \"3 s\"\n\
        rise_limit = \"600 Pa\"\n\n\
        [[cycle.tier]]\n";
    assert_eq!(text.matches("[[cycle.tier]]\n").count(), 1);
    let path = folder.join("two_tiers.toml");
    std::fs::write(&path, text.replace("[[cycle.tier]]\n", coarse)).unwrap();
    path.to_str().unwrap().to_owned()
}

/// A trace through nodes of time and pressure, with a gauge noise of 1 Pa.
fn trace(folder: &std::path::Path, name: &str, nodes: &[(f64, f64)]) -> String {
    let mut chance = digits::RandomStream::new(77, 1);
    let mut text = String::from("time_s,p [Pa]\n");
    let last = nodes[nodes.len() - 1].0;
    for row in 0..=(last / 0.05) as u32 {
        let t = f64::from(row) * 0.05;
        let next = nodes.iter().position(|node| node.0 > t).unwrap_or(nodes.len() - 1).max(1);
        let ((t0, p0), (t1, p1)) = (nodes[next - 1], nodes[next]);
        let level = p0 + (p1 - p0) * ((t - t0) / (t1 - t0)).clamp(0.0, 1.0);
        text.push_str(&format!("{t:.2},{:.2}\n", level + chance.normal()));
    }
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

fn examined(case: &str, trace: &str) -> serde_json::Value {
    json(&["examine", trace, "--case", case])["runs"][0].clone()
}

#[test]
fn a_cycle_of_two_tiers_is_read_in_its_last() {
    let folder = tempfile::tempdir().unwrap();
    let case = case(folder.path());
    let nodes = [
        (0.0, 1e5),
        (1.0, 1e5),
        (3.0, 3e4),
        (7.0, 30_050.0),
        (12.0, 150.0),
        (24.0, 174.0),
        (24.3, 1e5),
        (26.0, 1e5),
    ];
    let run = examined(&case, &trace(folder.path(), "whole.csv", &nodes));
    assert_eq!(run["ended"], "completed", "{run:#}");
    assert_eq!(run["cycle_stages"]["sureness"], "likely", "{:#}", run["cycle_stages"]);
    // 2 Pa/s over 8 s, between the levels of a tenth at each end.
    assert!((run["rise_pa"].as_f64().unwrap() - 14.4).abs() < 1.0, "{}", run["rise_pa"]);
    let measured: Vec<_> = run["cycle_stages"]["spans"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|span| span["stage"] == "measure")
        .map(|span| (span["tier"].as_u64().unwrap(), span["start_s"].as_f64().unwrap()))
        .collect();
    assert_eq!(measured.len(), 2);
    assert!(measured[0].0 == 1 && (measured[0].1 - 4.0).abs() < 0.2, "{measured:?}");
    assert!(measured[1].0 == 2 && (measured[1].1 - 16.0).abs() < 0.2, "{measured:?}");
}

#[test]
fn a_gross_leak_is_rejected_by_the_tier_that_ended_the_run() {
    let folder = tempfile::tempdir().unwrap();
    let case = case(folder.path());
    // 400 Pa/s in the first tier, 1200 Pa in 3 s where 600 are allowed, and vented.
    let rises = [(0.0, 1e5), (1.0, 1e5), (3.0, 3e4), (7.0, 31_600.0), (7.3, 1e5), (8.0, 1e5)];
    let run = examined(&case, &trace(folder.path(), "rises.csv", &rises));
    assert_eq!(run["ended"], "rise limit exceeded in tier 1", "{run:#}");
    // Pumped for the 5 s that are allowed, and 45 kPa where 33 must be reached.
    let stalls = [(0.0, 1e5), (1.0, 1e5), (4.0, 4.6e4), (6.0, 4.5e4), (6.3, 1e5), (7.0, 1e5)];
    let run = examined(&case, &trace(folder.path(), "stalls.csv", &stalls));
    assert_eq!(run["ended"], "reach limit not met in tier 1", "{run:#}");
    assert!(run["rise_pa"].is_null());
}

#[test]
fn a_record_that_ends_early_with_no_limit_exceeded_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    let case = case(folder.path());
    let early = [(0.0, 1e5), (1.0, 1e5), (3.0, 3e4), (7.0, 30_050.0), (7.3, 1e5), (8.0, 1e5)];
    let run = examined(&case, &trace(folder.path(), "early.csv", &early));
    let ended = run["ended"].as_str().unwrap();
    assert!(ended.starts_with("aborted") && ended.contains("before tier 2"), "{ended}");
}

//! `examine` on the invented trace of the examples: stages, features, causes.

use super::{fault, json, number};

const RIG: [&str; 8] = [
    "examine",
    "examples/trace.csv",
    "--volume",
    "12mL",
    "--headspace",
    "3.6mL",
    "--headspace-pressure",
    "0.3bar",
];

#[test]
fn a_cycle_is_read_and_explained() {
    let answer = json(&RIG);
    let run = &answer["runs"][0];
    assert_eq!(run["cycle_stages"]["source"], "trace");
    // By hand from the file: 160.6 Pa at its lowest, 259.1 Pa at the end.
    let (start, end) = (number(run, "/level_start_pa"), number(run, "/level_end_pa"));
    assert!((number(run, "/rise_pa") - (end - start)).abs() < 1e-9);
    assert!(start > 160.0 && start < 185.0 && end > 250.0 && end < 259.2, "{start} {end}");
    assert!(number(run, "/curvature_pa_per_s2") < 0.0);
    let terms = run["terms"].as_array().unwrap();
    assert!(!terms.is_empty());
    let total: f64 = terms.iter().map(|term| number(term, "/rise_pa")).sum();
    let shares: f64 = terms.iter().filter_map(|term| term["share"].as_f64()).sum();
    assert!(total > 50.0 && (shares - 1.0).abs() < 1e-9, "{total} {shares}");
    assert!(number(run, "/leak_rate/lower_pa_per_s") <= number(run, "/leak_rate/upper_pa_per_s"));
    assert!(!run["sentence"].as_str().unwrap().is_empty());
    assert!(!run["next_step"].as_str().unwrap().is_empty());
}

/// A steady rise may be drift: without a limit of the gauge's drift only the
/// largest leak is said, with one an interval.
#[test]
fn a_leak_has_two_ends_where_the_drift_of_the_gauge_is_known() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("leak.csv");
    let mut text = String::from("time_s,p [Pa]\n");
    let mut chance = digits::RandomStream::new(5, 5);
    for row in 0..800 {
        let t = f64::from(row) * 0.05;
        let level = if t < 10.0 {
            1.0e5 * digits::scalar::exp(-t) + 100.0
        } else {
            104.0 + 2.0 * (t - 10.0)
        };
        text.push_str(&format!("{t:.2},{:.3}\n", level + 0.3 * chance.normal()));
    }
    std::fs::write(&path, text).unwrap();
    let path = path.to_str().unwrap();
    let open = json(&["examine", path]);
    let rate = &open["runs"][0]["leak_rate"];
    assert_eq!(rate["one_sided"], true, "{open:#}");
    assert_eq!(number(rate, "/lower_pa_per_s"), 0.0);
    // The rise of 2 Pa/s lies within the interval of leak and drift together.
    let (low, high) =
        (number(rate, "/with_drift_lower_pa_per_s"), number(rate, "/with_drift_upper_pa_per_s"));
    assert!(low > 1.5 && low < 2.0 && high > 2.0 && high < 2.5, "{rate}");
    assert_eq!(open["runs"][0]["verdict"], "leak or another cause");
    assert!(open["runs"][0]["sentence"].as_str().unwrap().contains("drift of the gauge"));
    let known = json(&["examine", path, "--drift", "0.01Pa/s"]);
    let rate = &known["runs"][0]["leak_rate"];
    assert_eq!(rate["one_sided"], false);
    let (low, high) = (number(rate, "/lower_pa_per_s"), number(rate, "/upper_pa_per_s"));
    assert!(low > 1.5 && low < 2.0 && high > 2.0 && high < 2.5, "{low} {high}");
    assert_eq!(known["runs"][0]["verdict"], "leak");
    let (code, text) = fault(&["examine", path, "--drift", "0.01"]);
    assert_eq!(code, 2, "{text}");
}

#[test]
fn the_times_of_a_method_are_used() {
    let answer =
        json(&["examine", "examples/trace.csv", "--case", "examples/lyophilised_vial.toml"]);
    let stages = &answer["runs"][0]["cycle_stages"];
    assert_eq!(stages["source"], "method");
    let spans = stages["spans"].as_array().unwrap();
    let settle = spans.iter().find(|span| span["stage"] == "settle").unwrap();
    // The case settles 4 s and measures 10 s.
    assert!((number(settle, "/end_s") - number(settle, "/start_s") - 4.0).abs() < 1e-9);
}

#[test]
fn a_gauge_at_its_end_never_reads_as_tight() {
    let mut arguments = RIG.to_vec();
    arguments.extend(["--full-scale", "200Pa"]);
    let answer = json(&arguments);
    let run = &answer["runs"][0];
    assert_eq!(run["verdict"], "gauge at full scale");
    assert!(run["flags"].as_array().unwrap().iter().any(|flag| flag == "saturated"));
    assert!(run["leak_rate"]["upper_pa_per_s"].is_null());
}

#[test]
fn a_plan_that_does_not_fit_is_the_users_fault() {
    let (code, text) = fault(&["examine", "examples/trace.csv", "--reading", "Cargo.toml"]);
    assert_eq!(code, 2, "{text}");
    assert!(text.contains("reading plan"), "{text}");
    let (code, text) =
        fault(&["examine", "examples/trace.csv", "--headspace", "1mL", "--gas", "xx"]);
    assert_eq!(code, 2, "{text}");
}

/// The bands of the figure stack to the fitted sum, and residuals are what is
/// left of the record.
#[test]
fn the_fit_can_be_drawn_and_adds_up() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("trace.svg");
    let mut arguments = RIG.to_vec();
    arguments.extend(["--figure", path.to_str().unwrap()]);
    let answer = json(&arguments);
    assert_eq!(answer["figure"], path.to_str().unwrap());
    let run = &answer["runs"][0];
    let list = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
    };
    let fitted = list(&run["residuals"]["fitted_pa"]);
    let times = list(&run["residuals"]["times_s"]);
    let left = list(&run["residuals"]["values_pa"]);
    assert!(times.len() == fitted.len() && times.len() == left.len() && times.len() <= 200);
    let curves: Vec<Vec<f64>> =
        run["terms"].as_array().unwrap().iter().map(|term| list(&term["curve_pa"])).collect();
    for (place, fit) in fitted.iter().enumerate() {
        let stacked: f64 = fitted[0] + curves.iter().map(|curve| curve[place]).sum::<f64>();
        assert!((stacked - fit).abs() < 1e-6 * fit.abs(), "{place}: {stacked} {fit}");
    }
    let drawing = std::fs::read_to_string(&path).unwrap();
    assert!(drawing.starts_with("<svg") && drawing.matches("<svg ").count() == 3);
    for word in ["Rise and its causes", "What the causes leave", "fitted sum", "residual"] {
        assert!(drawing.contains(word), "{word}");
    }
    let first = run["terms"][0]["cause"].as_str().unwrap();
    assert!(drawing.contains(first), "{first}");
    let (code, text) = fault(&["examine", "examples/trace.csv", "--figure", "trace.png"]);
    assert!(code == 2 && text.contains(".svg"), "{text}");
}

//! Every worked case with the number that an expert would check first, and the
//! page that lists them.
//!
//! To write the page anew: `ISOBAR_WRITE_WORKED_CASES=1 cargo test -p study
//! --release --test worked_cases`.

use std::fmt::Write as _;

use study::forecast::{ForecastSettings, forecast};
use study::worked_cases::{all, first_check};

const PAGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/worked_cases.md");

const HEAD: &str = "\
# Worked cases

Ten scenarios, all invented; no figure is of a real product or instrument. `isobar begin` lists them
and writes one to a file; the first three are walked by `isobar demo`. Each comes with the number that
an expert would check first, had without this program: a test compares it with the forecast. The page
is written by `crates/study/tests/worked_cases.rs`.

| case | question | checked first | by hand or published | forecast | allowed | answer |
|---|---|---|---|---|---|---|
";

fn digits(value: f64) -> String {
    if value.abs() >= 1000.0 { format!("{value:.0}") } else { format!("{value:.3}") }
}

fn allowed(tolerance: f64) -> String {
    if tolerance < 1e-6 { "exact".to_owned() } else { format!("{:.0} %", 100.0 * tolerance) }
}

#[test]
fn each_case_gives_the_number_to_check_first() {
    let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
    let mut page = HEAD.to_owned();
    let mut sources = String::from("\n## Where the numbers come from\n\n");
    for case in all() {
        let check = first_check(&case.id).unwrap_or_else(|| panic!("{} has a check", case.id));
        let found = forecast(&case, &settings, &|_, _| {}).expect(&case.id);
        let value = check.forecast_value(&found).unwrap_or_else(|| panic!("{}", case.id));
        let off = value / check.value - 1.0;
        assert!(off.abs() <= check.tolerance, "{}: {value} is not {}", case.id, check.value);
        let _ = writeln!(
            page,
            "| `{}` | {} | {} | {} | {} | {} | {} |",
            case.id,
            case.question,
            check.words(),
            digits(check.value),
            digits(value),
            allowed(check.tolerance),
            found.verdict.answer.word(),
        );
        let _ = writeln!(sources, "- `{}`: {}", case.id, check.source);
    }
    page.push_str(&sources);
    if std::env::var_os("ISOBAR_WRITE_WORKED_CASES").is_some() {
        std::fs::write(PAGE, &page).expect("the page can be written");
    }
    let kept = std::fs::read_to_string(PAGE).unwrap_or_default();
    assert_eq!(kept, page, "docs/worked_cases.md is not what the cases say today");
}

#[test]
fn a_wrong_volume_would_be_seen() {
    let settings = ForecastSettings { n_draws: 16, n_sizes: 31, ..ForecastSettings::default() };
    let mut case = study::worked_cases::three_sites();
    let free = case.rig.free_volume.value;
    case.rig.free_volume.value = study::quantities::Volume::from_m3(2.0 * free.m3());
    let found = forecast(&case, &settings, &|_, _| {}).expect("forecast");
    let check = first_check(&case.id).expect("a check");
    let value = check.forecast_value(&found).expect("a value");
    assert!((value / check.value - 1.0).abs() > check.tolerance, "{value}");
}

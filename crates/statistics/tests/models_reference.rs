//! Models with several variances, floors and kinds of results on the example
//! tables, against the rows that scipy and statsmodels gave for them
//! (`reference/statistics_models.csv`, made by `referees/rows_of_models.py`).

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use digits::scalar::ln;
use evidence::Row;
use statistics::comparison::power_two_groups::{
    TwoGroups, two_group_equivalence_power, two_group_power,
};
use statistics::detection::signal_response::{Signal, Spread, kinds_agree, signal_response};
use statistics::detection::{Floor, HitMiss, Link, fit_with_false_calls};
use statistics::uncertainty::Distribution;
use statistics::uncertainty::correlation::of_scores;
use statistics::variance_components::{Factor, nested_levels, random_factors};

/// A table of the folder of examples.
struct Example(BTreeMap<String, Vec<String>>);

impl Example {
    fn read(name: &str) -> Self {
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).unwrap();
        let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let mut columns: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for record in reader.records() {
            for (name, cell) in names.iter().zip(record.unwrap().iter()) {
                columns.entry(name.clone()).or_default().push(cell.to_owned());
            }
        }
        Self(columns)
    }

    fn numbers(&self, name: &str) -> Vec<f64> {
        self.0[name].iter().map(|cell| cell.parse().unwrap()).collect()
    }

    fn places(&self, names: &[&str]) -> Vec<usize> {
        let mut known = BTreeMap::new();
        (0..self.0[names[0]].len())
            .map(|i| {
                let key: Vec<&String> = names.iter().map(|name| &self.0[*name][i]).collect();
                let next = known.len();
                *known.entry(key).or_insert(next)
            })
            .collect()
    }
}

/// The rows of the file, and which of them were met.
struct Rows {
    rows: Vec<Row>,
    met: RefCell<BTreeSet<String>>,
}

impl Rows {
    fn check(&self, quantity: &str, value: f64) {
        let row = self.rows.iter().find(|row| row.quantity == quantity);
        let row = row.unwrap_or_else(|| panic!("no row {quantity}"));
        row.check(value);
        self.met.borrow_mut().insert(quantity.to_owned());
    }

    fn of(&self, title: &str, values: &[(&str, f64)]) {
        for (quantity, value) in values {
            self.check(&format!("{title} {quantity}"), *value);
        }
    }
}

fn joined(rows: &Rows) {
    let table = Example::read("read_and_judged.csv");
    let x: Vec<f64> = table.numbers("verified_um").into_iter().map(ln).collect();
    let threshold = ln(24.0 - 16.2);
    let judged: Vec<bool> = table.0["rise_pa"].iter().map(String::is_empty).collect();
    let signals: Vec<Signal> = table.0["rise_pa"]
        .iter()
        .zip(&table.0["found"])
        .map(|(rise, found)| match (rise.parse::<f64>(), found.as_str()) {
            (Ok(rise), _) => Signal::Read(ln(rise - 16.2)),
            (_, "1") => Signal::Above(threshold),
            _ => Signal::Below(threshold),
        })
        .collect();
    let fit = signal_response(&x, &signals, None, Spread::Constant).unwrap();
    let kinds = kinds_agree(&x, &signals, None, &judged).unwrap();
    rows.of(
        "joined",
        &[
            ("intercept", fit.intercept),
            ("slope", fit.slope),
            ("scatter", fit.total),
            ("ratio", kinds.test.ratio),
            ("p", kinds.test.p_value),
        ],
    );
}

fn false_calls(rows: &Rows) {
    let table = Example::read("blanks_and_leaks.csv");
    let (sizes, hits) = (table.numbers("verified_um"), table.numbers("found"));
    let data: Vec<HitMiss> = (0..sizes.len())
        .map(|i| HitMiss {
            size: sizes[i],
            hits: hits[i] as u64,
            of: table.numbers("tested")[i] as u64,
        })
        .collect();
    let fit = fit_with_false_calls(&data, Link::Logit, true, Floor::Estimated, 0.95).unwrap();
    rows.of(
        "false calls",
        &[
            ("floor", fit.floor),
            ("intercept", fit.intercept),
            ("slope", fit.slope),
            ("a90", fit.a90.unwrap()),
            ("a90/95", fit.a90_95.unwrap()),
        ],
    );
}

fn signals(rows: &Rows) {
    let table = Example::read("repeated_controls.csv");
    let x: Vec<f64> = table.numbers("verified_um").into_iter().map(ln).collect();
    let y: Vec<Signal> =
        table.numbers("rise_pa").into_iter().map(|v| Signal::Read(ln(v - 16.2))).collect();
    let units = table.places(&["unit"]);
    let fit = |spread| signal_response(&x, &y, Some(&units), spread).unwrap();
    let plain = fit(Spread::Constant);
    let mut list = vec![
        ("intercept", plain.intercept),
        ("slope", plain.slope),
        ("between", plain.between_units.unwrap()),
        ("within", plain.within_units.unwrap()),
    ];
    rows.of("unit effects", &list);
    let grown = fit(Spread::LogLinearInSize);
    list = vec![
        ("intercept", grown.intercept),
        ("slope", grown.slope),
        ("between", grown.between_units.unwrap()),
        ("within", grown.within_units.unwrap()),
        ("exponent", grown.spread_exponent),
    ];
    rows.of("spread in size", &list);
}

/// Units read once on one scatter: the exact bound of a size found with 0.9.
fn exact_place(rows: &Rows) {
    let x = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0];
    let y = [1.2, 1.9, 3.4, 3.6, 5.3, 5.6, 7.4, 7.7, 9.1].map(Signal::Read);
    let units: Vec<usize> = (0..9).collect();
    let fit = signal_response(&x, &y, Some(&units), Spread::Constant).unwrap();
    let place = fit.place_detected(4.0, 0.9, 0.95).unwrap();
    assert!(place.method.starts_with("noncentral t"), "{}", place.method);
    rows.check("exact place upper", place.upper.unwrap());
}

fn components(rows: &Rows) {
    let names = ["variance 0", "variance 1", "variance 2", "variance 3"];
    let gauge = Example::read("unequal_gauge.csv");
    let levels =
        [gauge.places(&["part"]), gauge.places(&["operator"]), gauge.places(&["part", "operator"])];
    let factors: Vec<Factor<'_>> = ["part", "operator", "both"]
        .into_iter()
        .zip(&levels)
        .map(|(name, levels)| Factor { name, levels })
        .collect();
    let fit = random_factors(&gauge.numbers("reading"), &factors, 0.95).unwrap();
    rows.check("random factors criterion", fit.criterion);
    for (name, component) in names.iter().zip(&fit.components) {
        rows.check(&format!("random factors {name}"), component.variance);
    }
    let sites = Example::read("sites_days_runs.csv");
    let levels = [sites.places(&["site"]), sites.places(&["day"]), sites.places(&["run"])];
    let factors: Vec<Factor<'_>> = ["site", "day", "run"]
        .into_iter()
        .zip(&levels)
        .map(|(name, levels)| Factor { name, levels })
        .collect();
    let fit = nested_levels(&sites.numbers("rise_pa"), &factors, 0.95).unwrap();
    rows.check("nested levels criterion", fit.restricted.criterion);
    for (name, level) in names.iter().zip(&fit.levels) {
        rows.check(&format!("nested levels {name}"), level.restricted);
    }
}

fn plans_and_copulas(rows: &Rows) {
    let plan = TwoGroups { units: (6, 14), standard_deviations: (1.0, 2.5) };
    rows.check("two groups difference", two_group_power(&plan, 1.5, 0.05).unwrap());
    rows.check(
        "two groups equivalence",
        two_group_equivalence_power(&plan, 1.5, 2.4, 0.05).unwrap(),
    );
    let score = |first, second, wanted| {
        of_scores(("first", first), ("second", second), wanted).unwrap().unwrap()
    };
    let (flat, triangle) =
        (Distribution::Rectangular(-1.0, 4.0), Distribution::Triangular(0.0, 2.0));
    rows.check("rectangular with triangular copula", score(flat, triangle, -0.7));
    let (t, normal) = (Distribution::StudentT(1.0, 2.0, 5.0), Distribution::Normal(0.0, 1.0));
    rows.check("t with normal copula", score(t, normal, 0.6));
}

#[test]
fn example_tables_give_what_independent_programs_give() {
    let rows = Rows { rows: evidence::rows("statistics_models.csv"), met: RefCell::default() };
    joined(&rows);
    false_calls(&rows);
    signals(&rows);
    exact_place(&rows);
    components(&rows);
    plans_and_copulas(&rows);
    assert!(rows.rows.iter().all(|row| row.evidence == "independent program"));
    let met = rows.met.borrow();
    for row in &rows.rows {
        assert!(met.contains(&row.quantity), "nobody asks for {}", row.quantity);
    }
}

//! The published three-site study: what its table says, and what it does not.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{Row, rows};
use statistics::interlaboratory;
use statistics::proportions::clopper_pearson;
use statistics::size_exponent::{SizeReading, size_exponent};
use statistics::summaries::{GroupSummary, groups_differ, pooled};
use statistics::tolerance_limits::upper_limit_from_summary;

const FILE: &str = "statistics_three_site_study.csv";

fn figure(all: &[Row], quantity: &str, site: &str, population: &str) -> f64 {
    let row = all
        .iter()
        .find(|r| {
            r.quantity == quantity
                && r.inputs.get("site").is_some_and(|s| s == site)
                && r.inputs.get("population").is_some_and(|p| p == population)
        })
        .unwrap_or_else(|| panic!("{quantity} {site} {population}"));
    row.value
}

fn groups(all: &[Row], population: &str) -> Vec<GroupSummary> {
    ["1", "2", "3"]
        .iter()
        .map(|site| GroupSummary {
            label: format!("site {site}"),
            mean: figure(all, "mean reading", site, population),
            standard_deviation: figure(all, "standard deviation", site, population),
            n: figure(all, "number of readings", site, population) as usize,
        })
        .collect()
}

fn net(all: &[Row], site: &str, sizes: [&str; 2]) -> statistics::size_exponent::Exponent {
    let readings = sizes.map(|population| SizeReading {
        size: population.trim_end_matches(" um").parse().unwrap(),
        mean: figure(all, "mean reading", site, population),
        standard_deviation: figure(all, "standard deviation", site, population),
        n: figure(all, "number of readings", site, population) as usize,
        censored: figure(all, "mean reading", site, population) == 599.0,
    });
    let blank = (
        figure(all, "mean reading", site, "no leak"),
        figure(all, "standard deviation", site, "no leak"),
        figure(all, "number of readings", site, "no leak") as usize,
    );
    size_exponent(&readings, Some(blank), 0.95).unwrap()
}

#[test]
fn every_row() {
    let all = rows(FILE);
    let mut printed = 0;
    for row in &all {
        let computed = match row.quantity.as_str() {
            "mean reading" | "standard deviation" | "number of readings" => {
                printed += 1;
                continue;
            }
            quantity if quantity.starts_with("printed ") => {
                printed += 1;
                continue;
            }
            "pooled mean" => pooled(&groups(&all, row.text("population"))).unwrap().mean,
            "pooled standard deviation" => {
                pooled(&groups(&all, row.text("population"))).unwrap().standard_deviation
            }
            "standard deviation of site averages" => {
                let groups = groups(&all, "no leak");
                interlaboratory::from_summaries(&groups, None).unwrap().sd_of_averages
            }
            "one-sided tolerance limit" => {
                upper_limit_from_summary(
                    row.number("mean"),
                    row.number("sd"),
                    row.number("n") as usize,
                    row.number("content"),
                    row.number("confidence"),
                )
                .unwrap()
                .limit
            }
            "reproducibility standard deviation" => {
                let groups = groups(&all, "no leak");
                let replicates = row.number("replicates") as usize;
                interlaboratory::from_summaries(&groups, Some(replicates))
                    .unwrap()
                    .reproducibility_sd
            }
            "reproducibility standard deviation from parts" => {
                // Three laboratories made to show exactly the printed parts.
                let s = row.number("sd of averages");
                let repeatability = row.number("r") / 2.8;
                let groups: Vec<GroupSummary> = [-s, 0.0, s]
                    .iter()
                    .map(|mean| GroupSummary {
                        label: "part".into(),
                        mean: *mean,
                        standard_deviation: repeatability,
                        n: 15,
                    })
                    .collect();
                let replicates = row.number("replicates") as usize;
                interlaboratory::from_summaries(&groups, Some(replicates))
                    .unwrap()
                    .reproducibility_sd
            }
            "one-sided lower bound" => {
                let (hits, of) = (row.number("hits") as u64, row.number("of") as u64);
                clopper_pearson(hits, of, row.number("confidence")).unwrap().one_sided_lower
            }
            "size exponent" | "size exponent lower limit" | "size exponent upper limit" => {
                let sizes = match row.text("sizes") {
                    "5 to 10 um" => ["5 um", "10 um"],
                    _ => ["10 um", "15 um"],
                };
                let result = net(&all, row.text("site"), sizes);
                match row.quantity.as_str() {
                    "size exponent" => result.exponent,
                    "size exponent lower limit" => result.lower,
                    _ => result.upper.unwrap(),
                }
            }
            "normal probability above the limit" => {
                let limit = upper_limit_from_summary(13.0, 4.3, 135, 0.99, 0.95).unwrap().limit;
                let z = (limit - row.number("mean")) / row.number("sd");
                statistics::distributions::normal::survival(z)
            }
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
    assert_eq!(printed, 36 + 3);
}

#[test]
fn retyped_figures_equal_the_shared_table() {
    let Some(table) = evidence::table("data/three_site_study.csv") else { return };
    let all = rows(FILE);
    for (i, (site, population)) in table["site"].iter().zip(&table["population"]).enumerate() {
        let value = |column: &str| table[column][i].parse::<f64>().unwrap();
        assert_eq!(figure(&all, "mean reading", site, population), value("mean_pa"));
        assert_eq!(figure(&all, "standard deviation", site, population), value("sd_pa"));
        assert_eq!(figure(&all, "number of readings", site, population), value("n"));
    }
}

#[test]
fn sites_differ_and_pooling_says_so() {
    let groups = groups(&rows(FILE), "no leak");
    let test = groups_differ(&groups).unwrap();
    assert!(test.p_value < 1e-6 && test.method.contains("Welch"));
    assert!(pooled(&groups).unwrap().notes.iter().any(|note| note.code == "groups-differ"));
}

#[test]
fn aborted_runs_are_no_exponent() {
    let all = rows(FILE);
    let result = net(&all, "1", ["5 um", "10 um"]);
    assert!(result.is_lower_bound && result.upper.is_none());
    assert!(result.notes.iter().any(|note| note.code == "censored-size"));
}

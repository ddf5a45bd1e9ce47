//! Binomial bounds against two programs and printed tables.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use statistics::proportions::{
    acceptance, clopper_pearson, demonstration_sample_size, single_plans, success_run_sample_size,
    wilson,
};

#[test]
fn values_of_the_method_notes() {
    for row in evidence::rows("statistics_binomial.csv") {
        let parts: Vec<&str> = row.quantity.split('_').collect();
        let computed = match parts.as_slice() {
            ["cp", hits, of, end] => {
                let bounds =
                    clopper_pearson(hits.parse().unwrap(), of.parse().unwrap(), 0.95).unwrap();
                if *end == "lo" { bounds.lower } else { bounds.upper }
            }
            ["lb95", hits, "of", of] => {
                clopper_pearson(hits.parse().unwrap(), of.parse().unwrap(), 0.95)
                    .unwrap()
                    .one_sided_lower
            }
            ["demo", "n", reliability, "c0", confidence] => success_run_sample_size(
                reliability[1..].parse().unwrap(),
                confidence.parse::<f64>().unwrap() / 100.0,
            )
            .unwrap() as f64,
            ["wilson", hits, of, end] => {
                let bounds = wilson(hits.parse().unwrap(), of.parse().unwrap(), 0.95).unwrap();
                if *end == "lo" { bounds.lower } else { bounds.upper }
            }
            ["oc", "52", "3", p] => {
                let p = p[1..].parse::<f64>().unwrap() / 100.0;
                acceptance::acceptance_probability(52, 3, p).unwrap()
            }
            ["aoql", "52", "3", _] => acceptance::outgoing_quality_limit(10_000, 52, 3).unwrap().0,
            ["demo", "n", reliability, c, confidence] => demonstration_sample_size(
                reliability[1..].parse().unwrap(),
                confidence.parse::<f64>().unwrap() / 100.0,
                c[1..].parse().unwrap(),
            )
            .unwrap() as f64,
            ["hyper", _, _, _, _] => {
                acceptance::finite_acceptance_probability(500, 5, 50, 0).unwrap()
            }
            _ => panic!("{} is not computed by this test", row.quantity),
        };
        row.check(computed);
    }
}

#[test]
fn single_plans_equal_the_recalled_table() {
    let path = "../../../shared/reference/statistics/checks/z14_iso2859_single_normal.json";
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("skipped: the recalled table is not on this machine");
        return;
    };
    let table: serde_json::Value = serde_json::from_str(&text).unwrap();
    let lots = table["lot_size_upper_bounds"].as_array().unwrap();
    let mut cells = 0;
    for (row, bound) in lots.iter().enumerate() {
        let lot = bound.as_u64().unwrap_or(1_000_000);
        let code = table["code_letters"]["II"][row].as_str().unwrap();
        assert_eq!(single_plans::code_letter(lot, single_plans::Level::II).to_string(), code);
        let plan = &table["single_normal"][code];
        for (limit, number) in plan["Ac"].as_object().unwrap() {
            let limit: f64 = limit.parse().unwrap();
            let own = single_plans::single_plan(lot, single_plans::Level::II, limit).unwrap();
            assert_eq!(own.n, plan["n"].as_u64().unwrap(), "{code} {limit}");
            assert_eq!(own.acceptance_number, number.as_u64().unwrap(), "{code} {limit}");
            cells += 1;
        }
    }
    assert!(cells > 100);
}

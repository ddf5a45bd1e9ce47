//! Binomial bounds against two programs and printed tables.

mod evidence;

use statistics::proportions::{clopper_pearson, success_run_sample_size};

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
            _ => panic!("{} is not computed by this test", row.quantity),
        };
        row.check(computed);
    }
}

//! Components of variance.

use super::{Case, within};
use digits::RandomStream;
use statistics::variance_components::gauge::gauge_variance;
use statistics::variance_components::{Factor, crossed, nested, nested_levels, one_way};

fn groups(stream: &mut RandomStream, count: usize, size: usize, between: f64) -> Vec<Vec<f64>> {
    (0..count)
        .map(|_| {
            let own = between * stream.normal();
            super::normal(stream, size, own, 1.0)
        })
        .collect()
}

/// Four sites, three days each, two readings: variances 1, 0.5, 0.25.
fn nest(stream: &mut RandomStream) -> Vec<Vec<Vec<f64>>> {
    (0..4)
        .map(|_| {
            let site = stream.normal();
            (0..3)
                .map(|_| {
                    let day = site + 0.5_f64.sqrt() * stream.normal();
                    super::normal(stream, 2, day, 0.5)
                })
                .collect()
        })
        .collect()
}

/// Interval of one level of the same nest.
fn level(stream: &mut RandomStream, level: usize, truth: f64) -> super::Outcome {
    let table = nest(stream);
    let (mut values, mut site, mut day) = (Vec::new(), Vec::new(), Vec::new());
    for (i, days) in table.iter().enumerate() {
        for (j, readings) in days.iter().enumerate() {
            for value in readings {
                values.push(*value);
                site.push(i);
                day.push(j);
            }
        }
    }
    let factors = [Factor { name: "site", levels: &site }, Factor { name: "day", levels: &day }];
    let found = nested_levels(&values, &factors, 0.95).unwrap();
    within(found.levels[level].interval?, truth)
}

/// Ten parts, three appraisers, two readings: appraisers 0.25, interaction
/// 0.1, readings 0.5.
fn study(stream: &mut RandomStream) -> Vec<Vec<Vec<f64>>> {
    let appraisers: Vec<f64> = (0..3).map(|_| 0.5 * stream.normal()).collect();
    (0..10)
        .map(|_| {
            let part = 2.0 * stream.normal();
            appraisers
                .iter()
                .map(|appraiser| {
                    let cell = part + appraiser + 0.1_f64.sqrt() * stream.normal();
                    super::normal(stream, 2, cell, 0.5_f64.sqrt())
                })
                .collect()
        })
        .collect()
}

pub(super) fn cases() -> Vec<Case> {
    vec![
        Case::new("share of variance between 8 groups of 4", |stream| {
            let (_, low, high) =
                one_way(&groups(stream, 8, 4, 1.0)).unwrap().intraclass(0.95).unwrap();
            within((low, high), 0.5)
        }),
        Case::new("total variance, 6 groups of 5, modified large sample", |stream| {
            let table = one_way(&groups(stream, 6, 5, 1.0)).unwrap();
            within(table.total_interval(0.95).unwrap(), 2.0)
        }),
        // Three mean squares with few degrees of freedom: on the wide side.
        Case::promising("total variance of a nest 4 x 3 x 2", (0.945, 0.96), |stream| {
            let (_, low, high) = nested(&nest(stream)).unwrap().total(0.95).unwrap();
            within((low, high), 1.75)
        }),
        Case::new("variance between sites of that nest", |stream| level(stream, 0, 1.0)),
        Case::new("variance between days of that nest", |stream| level(stream, 1, 0.5)),
        Case::new("variance of readings of that nest", |stream| level(stream, 2, 0.25)),
        Case::new("gauge variance, 10 parts x 3 appraisers x 2", |stream| {
            let table = crossed(&study(stream)).unwrap();
            let (_, low, high) = gauge_variance(&table, 0.95).unwrap();
            within((low, high), 0.85)
        }),
    ]
}

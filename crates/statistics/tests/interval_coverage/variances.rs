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
    nest_of(stream, (4, 3, 2), [1.0, 0.5, 0.25])
}

/// Sites, days of each, readings of each, with the variances of those levels.
fn nest_of(
    stream: &mut RandomStream,
    (sites, days, readings): (usize, usize, usize),
    variances: [f64; 3],
) -> Vec<Vec<Vec<f64>>> {
    let [between_sites, between_days, own] = variances.map(f64::sqrt);
    (0..sites)
        .map(|_| {
            let site = between_sites * stream.normal();
            (0..days)
                .map(|_| {
                    let day = site + between_days * stream.normal();
                    super::normal(stream, readings, day, own)
                })
                .collect()
        })
        .collect()
}

fn nest_total(
    name: &'static str,
    promised: (f64, f64),
    sizes: (usize, usize, usize),
    variances: [f64; 3],
) -> Case {
    Case::promising(name, promised, move |stream| {
        let (_, low, high) =
            nested(&nest_of(stream, sizes, variances)).unwrap().total(0.95).unwrap();
        within((low, high), variances.iter().sum())
    })
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
        nest_total(
            "total variance of a nest 4 x 3 x 2",
            (0.945, 0.96),
            (4, 3, 2),
            [1.0, 0.5, 0.25],
        ),
        nest_total(
            "total variance of a nest 4 x 3 x 2, variances 1, 1, 1",
            super::NOMINAL,
            (4, 3, 2),
            [1.0, 1.0, 1.0],
        ),
        nest_total(
            "total variance of a nest 4 x 3 x 2, variances 0.1, 0.5, 1",
            (0.943, 0.955),
            (4, 3, 2),
            [0.1, 0.5, 1.0],
        ),
        nest_total(
            "total variance of a nest 3 x 2 x 2",
            (0.945, 0.966),
            (3, 2, 2),
            [1.0, 0.5, 0.25],
        ),
        nest_total(
            "total variance of a nest 3 x 2 x 2, variances 0, 0, 1",
            (0.94, 0.955),
            (3, 2, 2),
            [0.0, 0.0, 1.0],
        ),
        nest_total(
            "total variance of a nest 6 x 3 x 2",
            (0.945, 0.957),
            (6, 3, 2),
            [1.0, 0.5, 0.25],
        ),
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

//! Models with several variances against scipy and statsmodels, which write each
//! likelihood out from its definition, and against R's nlme and survival, live,
//! on seeded data.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod questions;

use digits::RandomStream;
use digits::scalar::{exp, ln};
use questions::{Questions, answers, python};
use statistics::comparison::power_two_groups::{
    TwoGroups, two_group_equivalence_power, two_group_power,
};
use statistics::detection::signal_response::{
    Signal, Spread, censored_line, kinds_agree, signal_response,
};
use statistics::detection::{Floor, HitMiss, Link, fit_with_false_calls};
use statistics::experiments::response_surface::model_row;
use statistics::experiments::success::{Criterion, probability_of_success};
use statistics::experiments::{designs, response_surface};
use statistics::uncertainty::Distribution;
use statistics::uncertainty::correlation::of_scores;
use statistics::variance_components::restricted_likelihood::restricted_likelihood;
use statistics::variance_components::{Factor, random_factors};

fn words(list: &[f64]) -> String {
    list.iter().map(|v| format!("{v:e}")).collect::<Vec<_>>().join(" ")
}

/// Units evenly over 0 to 2, each read one to four times.
fn readings(seed: u64, units: usize, growth: f64) -> (Vec<f64>, Vec<f64>, Vec<usize>) {
    let mut stream = RandomStream::new(seed, 0);
    let (mut x, mut y, mut names) = (Vec::new(), Vec::new(), Vec::new());
    for unit in 0..units {
        let size = 2.0 * unit as f64 / (units - 1) as f64;
        let own = 0.5 * stream.normal();
        for _ in 0..1 + stream.below(4) {
            x.push(size);
            y.push(2.0 + 1.5 * size + exp(growth * (size - 1.0)) * (own + 0.4 * stream.normal()));
            names.push(unit);
        }
    }
    (x, y, names)
}

fn signals(asked: &mut Questions) {
    for seed in 0..4 {
        let (x, y, names) = readings(seed, 15, 0.0);
        let read: Vec<Signal> = y.iter().map(|v| Signal::Read(*v)).collect();
        let fit = signal_response(&x, &read, Some(&names), Spread::Constant).unwrap();
        let units: Vec<f64> = names.iter().map(|n| *n as f64).collect();
        asked.ask(
            "unit effects",
            &[&x, &y, &units],
            &[
                ("intercept", fit.intercept, 1e-5),
                ("slope", fit.slope, 1e-5),
                ("between", fit.between_units.unwrap(), 1e-4),
                ("within", fit.within_units.unwrap(), 1e-4),
                ("log-likelihood", fit.log_likelihood, 1e-8),
            ],
        );
    }
    let ways = [
        ("constant", Spread::Constant),
        ("size", Spread::LogLinearInSize),
        ("power", Spread::PowerOfMean),
    ];
    for (seed, (word, spread)) in ways.into_iter().enumerate() {
        let (x, y, names) = readings(40 + seed as u64, 12, 0.4);
        let (mut values, mut state) = (Vec::new(), Vec::new());
        let read: Vec<Signal> = y
            .iter()
            .map(|v| {
                let (signal, value, side) = if *v < 2.1 {
                    (Signal::Below(2.1), 2.1, -1.0)
                } else if *v > 4.6 {
                    (Signal::Above(4.6), 4.6, 1.0)
                } else {
                    (Signal::Read(*v), *v, 0.0)
                };
                values.push(value);
                state.push(side);
                signal
            })
            .collect();
        let fit = signal_response(&x, &read, Some(&names), spread).unwrap();
        let (between, within) = (fit.between_units.unwrap(), fit.within_units.unwrap());
        // The referee starts near, and off, this library's answer.
        let mut start = vec![fit.intercept + 0.1, fit.slope - 0.1, ln(within) + 0.1, between * 1.2];
        let mut own = vec![
            ("log-likelihood", fit.log_likelihood, 1e-8),
            ("intercept", fit.intercept, 1e-4),
            ("slope", fit.slope, 1e-4),
            ("within", within, 1e-4),
            ("between", between, 1e-4),
        ];
        if spread != Spread::Constant {
            start.push(fit.spread_exponent + 0.05);
            own.push(("exponent", fit.spread_exponent, 1e-3));
        }
        let units: Vec<f64> = names.iter().map(|n| *n as f64).collect();
        asked.ask_in_words(
            "censored units",
            vec![
                word.to_owned(),
                words(&x),
                words(&values),
                words(&state),
                words(&units),
                words(&[fit.reference]),
                words(&start),
            ],
            &own,
        );
    }
}

/// The exact bound of units read once on one scatter.
fn exact_places(asked: &mut Questions) {
    for seed in 0..4 {
        let mut stream = RandomStream::new(190 + seed, 0);
        let x: Vec<f64> = (0..8 + 3 * seed).map(|i| 0.3 * i as f64).collect();
        let y: Vec<f64> = x.iter().map(|v| 1.0 + 2.0 * v + 0.4 * stream.normal()).collect();
        let read: Vec<Signal> = y.iter().map(|v| Signal::Read(*v)).collect();
        let fit = signal_response(&x, &read, None, Spread::Constant).unwrap();
        for (probability, confidence) in [(0.9, 0.95), (0.99, 0.9)] {
            let place = fit.place_detected(2.5, probability, confidence).unwrap();
            asked.ask(
                "exact place",
                &[&x, &y, &[2.5], &[probability], &[confidence]],
                &[("upper", place.upper.unwrap(), 1e-9)],
            );
        }
    }
}

/// Read and judged units in one likelihood, and the two kinds apart.
fn joined_kinds(asked: &mut Questions) {
    for seed in 0..3 {
        let mut stream = RandomStream::new(130 + seed, 0);
        let (mut x, mut values, mut state) = (Vec::new(), Vec::new(), Vec::new());
        let (mut signals, mut judged) = (Vec::new(), Vec::new());
        for unit in 0..44 {
            let only_judged = unit >= 16;
            let size =
                if only_judged { f64::from(unit - 16) / 27.0 } else { f64::from(unit) / 15.0 };
            let y = 1.0 + 3.0 * size + 0.7 * stream.normal();
            x.push(size);
            judged.push(only_judged);
            let (signal, value, side) = match only_judged {
                false => (Signal::Read(y), y, 0.0),
                true if y > 2.5 => (Signal::Above(2.5), 2.5, 1.0),
                true => (Signal::Below(2.5), 2.5, -1.0),
            };
            signals.push(signal);
            values.push(value);
            state.push(side);
        }
        let fit = signal_response(&x, &signals, None, Spread::Constant).unwrap();
        let kinds = kinds_agree(&x, &signals, None, &judged).unwrap();
        asked.ask(
            "joined",
            &[&x, &values, &state],
            &[
                ("intercept", fit.intercept, 1e-5),
                ("slope", fit.slope, 1e-5),
                ("scatter", fit.total, 1e-5),
                ("log-likelihood", fit.log_likelihood, 1e-8),
                ("ratio", kinds.test.ratio, 1e-5),
                ("p", kinds.test.p_value, 1e-5),
            ],
        );
    }
}

/// Chance that several responses meet their limits: three surfaces of one
/// design whose residuals are correlated.
fn joint_success(asked: &mut Questions) {
    let design = designs::central_composite(2, 1.4, 6).unwrap();
    let mut results = vec![Vec::new(); 3];
    for (i, p) in design.iter().enumerate() {
        let mut stream = RandomStream::new(150, i as u64);
        let common = stream.normal();
        for (k, list) in results.iter_mut().enumerate() {
            let own = 0.8 * common * if k == 1 { -1.0 } else { 1.0 } + 0.6 * stream.normal();
            list.push(10.0 + p[0] - p[1] * p[1] + own);
        }
    }
    let surfaces: Vec<_> =
        results.iter().map(|list| response_surface(&design, list, None).unwrap()).collect();
    for count in [2, 3] {
        for point in [[0.0, 0.0], [0.6, -0.4]] {
            let criteria: Vec<Criterion<'_>> = surfaces[..count]
                .iter()
                .map(|surface| Criterion { surface, lower: Some(9.0), upper: Some(11.5) })
                .collect();
            let found = probability_of_success(&criteria, &point).unwrap();
            let correlation: Vec<f64> = found.correlation.clone().unwrap().concat();
            let row = model_row(&point);
            let (mut low, mut high) = (Vec::new(), Vec::new());
            for surface in &surfaces[..count] {
                let fit = &surface.fit;
                let mut variance = fit.residual_sd * fit.residual_sd;
                for (i, a) in row.iter().enumerate() {
                    for (j, b) in row.iter().enumerate() {
                        variance += a * b * fit.covariance[i][j];
                    }
                }
                let centre = surface.value(&point).unwrap();
                low.push((9.0 - centre) / variance.sqrt());
                high.push((11.5 - centre) / variance.sqrt());
            }
            let df = surfaces[0].fit.degrees_of_freedom;
            // The points of the cube know it to about 0.0005.
            let tolerance = 1e-3 / found.probability;
            asked.ask(
                "joint t",
                &[&correlation, &[df], &low, &high],
                &[("within", found.probability, tolerance)],
            );
        }
    }
}

fn false_calls(asked: &mut Questions) {
    let links = [("logit", Link::Logit), ("probit", Link::Probit), ("cloglog", Link::Cloglog)];
    for (seed, (word, link)) in links.into_iter().enumerate() {
        let mut stream = RandomStream::new(70 + seed as u64, 0);
        let sizes = [0.6, 1.0, 1.5, 2.2, 3.2, 4.5, 6.5];
        let count = |p: f64, of: u64, stream: &mut RandomStream| {
            (0..of).filter(|_| stream.uniform() < p).count() as u64
        };
        let mut data: Vec<HitMiss> = sizes
            .iter()
            .map(|size| {
                let p = 0.12 + 0.88 * link.probability(2.5 * (ln(*size) - 0.8));
                HitMiss { size: *size, hits: count(p, 30, &mut stream), of: 30 }
            })
            .collect();
        let blanks = count(0.12, 40, &mut stream);
        data.push(HitMiss { size: 0.0, hits: blanks, of: 40 });
        let fit = fit_with_false_calls(&data, link, true, Floor::Estimated, 0.95).unwrap();
        let logs: Vec<f64> = sizes.iter().map(|s| ln(*s)).collect();
        let hits: Vec<f64> = data[..7].iter().map(|row| row.hits as f64).collect();
        asked.ask_in_words(
            "false calls",
            vec![
                word.to_owned(),
                words(&logs),
                words(&hits),
                words(&[30.0; 7]),
                words(&[blanks as f64, 40.0]),
            ],
            &[
                ("floor", fit.floor, 1e-5),
                ("intercept", fit.intercept, 1e-5),
                ("slope", fit.slope, 1e-5),
                ("log-likelihood", fit.log_likelihood, 1e-9),
                ("a90", fit.a90.unwrap(), 1e-6),
                ("a90/95", fit.a90_95.unwrap(), 1e-5),
            ],
        );
    }
}

fn components(asked: &mut Questions) {
    for seed in 0..4 {
        let mut stream = RandomStream::new(90 + seed, 0);
        let effects = |n: usize, sd: f64, stream: &mut RandomStream| -> Vec<f64> {
            (0..n).map(|_| sd * stream.normal()).collect()
        };
        let (rows, columns) = (effects(6, 1.5, &mut stream), effects(5, 0.8, &mut stream));
        let (mut y, mut a, mut b, mut c) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for (i, row) in rows.iter().enumerate() {
            for (j, column) in columns.iter().enumerate() {
                let both = 0.7 * stream.normal();
                // None to three repeats: holes as well.
                for _ in 0..stream.below(4) {
                    y.push(40.0 + row + column + both + 0.5 * stream.normal());
                    a.push(i);
                    b.push(j);
                    c.push(10 * i + j);
                }
            }
        }
        let three = [
            Factor { name: "row", levels: &a },
            Factor { name: "column", levels: &b },
            Factor { name: "both", levels: &c },
        ];
        let list = |levels: &[usize]| levels.iter().map(|v| *v as f64).collect::<Vec<_>>();
        let lists = [list(&a), list(&b), list(&c)];
        let names = ["variance 0", "variance 1", "variance 2", "variance 3"];
        let fit = random_factors(&y, &three, 0.95).unwrap();
        let own = |fit: &statistics::variance_components::RandomFactors, tolerance: f64| {
            let mut own = vec![("criterion", fit.criterion, 1e-8 / fit.criterion.abs())];
            for (name, component) in names.iter().zip(&fit.components) {
                // A variance at its boundary has no digits to compare.
                if component.variance > 0.0 {
                    own.push((*name, component.variance, tolerance));
                }
            }
            own
        };
        asked.ask("random factors", &[&y, &lists[0], &lists[1], &lists[2]], &own(&fit, 1e-5));
        let fit = random_factors(&y, &three[..2], 0.95).unwrap();
        asked.ask("random factors", &[&y, &lists[0], &lists[1]], &own(&fit, 1e-5));
        let mut loose = own(&fit, 2e-3);
        loose[0].2 = 1e-7;
        asked.ask("crossed in statsmodels", &[&y, &lists[0], &lists[1]], &loose);
    }
}

fn plans(asked: &mut Questions) {
    for (units, sds, difference, margin, alpha) in [
        ((6, 14), (1.0, 2.5), 1.5, 2.4, 0.05),
        ((25, 9), (0.5, 1.5), 0.3, 1.2, 0.025),
        ((12, 12), (1.0, 1.0), 0.0, 1.1, 0.05),
    ] {
        let plan = TwoGroups { units, standard_deviations: sds };
        asked.ask(
            "welch power",
            &[
                &[units.0 as f64],
                &[units.1 as f64],
                &[sds.0],
                &[sds.1],
                &[difference],
                &[alpha],
                &[margin],
            ],
            &[
                ("difference", two_group_power(&plan, difference, alpha).unwrap(), 1e-8),
                (
                    "equivalence",
                    two_group_equivalence_power(&plan, difference, margin, alpha).unwrap(),
                    1e-5,
                ),
            ],
        );
    }
}

fn copulas(asked: &mut Questions) {
    let t = ("t", vec![1.0, 2.0, 5.0], Distribution::StudentT(1.0, 2.0, 5.0));
    let normal = ("normal", vec![0.0, 1.0], Distribution::Normal(0.0, 1.0));
    let flat = ("rectangular", vec![-1.0, 4.0], Distribution::Rectangular(-1.0, 4.0));
    let triangle = ("triangular", vec![0.0, 2.0], Distribution::Triangular(0.0, 2.0));
    for (first, second, wanted) in
        [(&t, &normal, 0.6), (&flat, &triangle, -0.7), (&triangle, &t, 0.3), (&flat, &flat, 0.8)]
    {
        let own = of_scores((first.0, first.2), (second.0, second.2), wanted).unwrap().unwrap();
        asked.ask_in_words(
            "copula",
            vec![
                format!("{} {}", first.0, second.0),
                words(&first.1),
                words(&second.1),
                words(&[wanted]),
            ],
            &[("copula", own, 1e-5)],
        );
    }
}

#[test]
fn scipy_and_statsmodels_agree() {
    let mut asked = Questions::default();
    signals(&mut asked);
    exact_places(&mut asked);
    false_calls(&mut asked);
    joined_kinds(&mut asked);
    joint_success(&mut asked);
    components(&mut asked);
    plans(&mut asked);
    copulas(&mut asked);
    let probe = ["-c", "import scipy, statsmodels"];
    let Some(text) = answers("scipy with statsmodels", &python(), &probe, "models.py", &asked.text)
    else {
        return;
    };
    let compared = asked.compare("scipy/statsmodels", &text);
    assert!(compared.len() >= 36, "{} quantities", compared.len());
}

/// Nests of unequal size, and lines with both kinds of censoring, for the
/// packages of R that are made for them.
fn for_packages_of_r(asked: &mut Questions) {
    for seed in 0..8 {
        let mut stream = RandomStream::new(150 + seed, 0);
        let (mut outer, mut inner, mut y) = (Vec::new(), Vec::new(), Vec::new());
        let nest: Vec<Vec<Vec<f64>>> = (0..6)
            .map(|i| {
                let high = 10.0 + 2.0 * stream.normal();
                (0..2 + stream.below(3))
                    .map(|j| {
                        let place = high + stream.normal();
                        let cell: Vec<f64> = (0..2 + stream.below(3))
                            .map(|_| place + 0.5 * stream.normal())
                            .collect();
                        outer.extend(cell.iter().map(|_| f64::from(i)));
                        inner.extend(cell.iter().map(|_| j as f64));
                        y.extend(&cell);
                        cell
                    })
                    .collect()
            })
            .collect();
        let own = restricted_likelihood(&nest).unwrap();
        asked.ask(
            "nested likelihood",
            &[&outer, &inner, &y],
            &[
                ("outer", own.outer, 1e-3),
                ("inner", own.inner, 1e-3),
                ("residual", own.residual, 1e-3),
                ("mean", own.mean, 1e-4),
                ("criterion", own.criterion, 1e-7),
            ],
        );
        let (mut x, mut value, mut state, mut signals) =
            (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for unit in 0..30 {
            let size = f64::from(unit) / 29.0;
            let y = 1.0 + 3.0 * size + 0.6 * stream.normal();
            let (signal, seen, side) = match y {
                y if y < 1.4 => (Signal::Below(1.4), 1.4, -1.0),
                y if y > 3.4 => (Signal::Above(3.4), 3.4, 1.0),
                y => (Signal::Read(y), y, 0.0),
            };
            x.push(size);
            value.push(seen);
            state.push(side);
            signals.push(signal);
        }
        let columns: Vec<Vec<f64>> = x.iter().map(|x| vec![1.0, *x]).collect();
        let own = censored_line(&columns, &signals, None).unwrap();
        asked.ask(
            "censored line",
            &[&x, &value, &state],
            &[
                ("intercept", own.coefficients[0], 1e-6),
                ("slope", own.coefficients[1], 1e-6),
                ("scatter", own.standard_deviation, 1e-6),
                ("log-likelihood", own.log_likelihood, 1e-9),
            ],
        );
    }
}

#[test]
fn packages_of_r_agree() {
    let mut asked = Questions::default();
    for_packages_of_r(&mut asked);
    let program = std::env::var("ISOBAR_RSCRIPT").unwrap_or_else(|_| "Rscript".to_owned());
    let probe = ["-e", "loadNamespace('nlme'); loadNamespace('survival')"];
    let Some(text) =
        answers("R with nlme and survival", &program, &probe, "referee.R", &asked.text)
    else {
        return;
    };
    let compared = asked.compare("R, nlme and survival", &text);
    assert!(compared.len() == 9, "{compared:?}");
}

//! The hit/miss curve drawn.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::hit_miss::Found;
use super::{Detection, Scale};
use crate::commands::assess::drawing::{
    band, intervals, line, log_places, places, points, upright, values,
};

/// Curve, bound and data.
pub fn curve(command: &Detection, found: &Found) -> Figure {
    let log = command.scale == Scale::Log;
    let shown: Vec<&(f64, _)> = found.by_size.iter().filter(|row| !log || row.0 > 0.0).collect();
    let sizes: Vec<f64> = shown.iter().map(|row| row.0).collect();
    let (axis, x, tested) = horizontal(command, &sizes, found.small_sample);
    let fit = &found.fit;
    let mut figure = Figure::new(
        "detection",
        "Probability of detection",
        axis,
        Axis::linear("probability of detection", "", 0.0, 1.0),
    );
    let inside = |at: &f64| *at >= tested.0 * (1.0 - 1e-9) && *at <= tested.1 * (1.0 + 1e-9);
    if fit.deviance.is_some() {
        let height = |at: f64| fit.probability(at).unwrap_or(f64::NAN);
        let ends: Vec<(f64, f64)> =
            x.iter().map(|at| (fit.lower_bound(*at).unwrap_or(f64::NAN), height(*at))).collect();
        let only_inside = |at: f64| if inside(&at) { height(at) } else { f64::NAN };
        let label = format!(
            "down to the one-sided {} bound",
            report::number::percent(command.confidence, 0)
        );
        figure = figure
            .with(band(&label, &x, &ends, Ink::Slate))
            .with(line(
                "beyond the sizes tested",
                &x,
                &values(&x, height),
                Ink::Slate,
                Dash::Dotted,
            ))
            .with(line(fit.link.word(), &x, &values(&x, only_inside), Ink::Slate, Dash::Solid));
    }
    if shown.iter().all(|row| row.1.of <= 2) {
        let of = |hit: bool| -> Vec<f64> {
            let rows = shown.iter().flat_map(|row| {
                let n = if hit { row.1.hits } else { row.1.of - row.1.hits };
                std::iter::repeat_n(row.0, n as usize)
            });
            rows.collect()
        };
        let (hits, misses) = (of(true), of(false));
        figure = figure
            .with(points("found", &hits, &vec![1.0; hits.len()], Marker::Disc, Ink::Rust))
            .with(points("missed", &misses, &vec![0.0; misses.len()], Marker::Ring, Ink::Teal));
    } else {
        let share: Vec<f64> = shown.iter().map(|row| row.1.hits as f64 / row.1.of as f64).collect();
        let ends: Vec<(f64, f64)> = shown.iter().map(|row| (row.1.lower, row.1.upper)).collect();
        figure = figure.with(intervals(
            "share found, exact interval",
            &sizes,
            &share,
            &ends,
            Marker::Disc,
            Ink::Black,
        ));
    }
    let mark = |name: &str, at: f64| format!("{name} {}", significant(at, 3));
    if let Some(a50) = fit.a50 {
        figure = figure.with(upright(&mark("a50", a50), a50, Ink::Grey, Dash::Dotted));
    }
    if let Some(a90) = fit.a90 {
        figure = figure.with(upright(&mark("a90", a90), a90, Ink::Black, Dash::Dashed));
    }
    if let Some(bound) = found.small_sample {
        figure = figure.with(upright(&mark("a90/95", bound), bound, Ink::Plum, Dash::Solid));
    }
    if let (None, Some((miss, hit))) = (fit.deviance, fit.bracket) {
        figure = figure
            .with(upright(&mark("largest miss", miss), miss, Ink::Teal, Dash::Dashed))
            .with(upright(&mark("smallest hit", hit), hit, Ink::Rust, Dash::Dashed));
    }
    let caption = format!(
        "{} units. a90/95: with {} confidence nine in ten units of this size are found, by \
         simulated reference distribution. {}",
        fit.n_units,
        report::number::percent(command.confidence, 0),
        if fit.deviance.is_some() {
            "The curve is dotted beyond the sizes tested."
        } else {
            "Hits and misses are separated, so there is no curve."
        }
    );
    figure.described(caption, "Probability of detection against size.")
}

/// Axis of the size with its places, and the range tested.
pub fn horizontal(
    command: &Detection,
    sizes: &[f64],
    bound: Option<f64>,
) -> (Axis, Vec<f64>, (f64, f64)) {
    let low = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = sizes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let tested = (low, high);
    let farthest = bound.filter(|bound| *bound < 10.0 * high).map_or(high, |b| b.max(high));
    let label = command.size.clone();
    if command.scale == Scale::Log && low > 0.0 {
        let (from, to) = (low * 0.75, farthest * 1.3);
        (Axis::logarithmic(label, "", from, to), log_places(from, to), tested)
    } else {
        let axis = Axis::holding(label, "", sizes.iter().copied().chain([farthest]));
        let x = places(axis.low, axis.high);
        (axis, x, tested)
    }
}

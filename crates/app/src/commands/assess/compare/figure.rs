//! Differences with their limits, both readings against each other, groups
//! side by side, and power by number of pairs.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::Compare;
use super::groups::Groups;
use super::pairs::Pairs;
use super::sizes::Power;
use super::two_group_sizes::Chance;
use crate::commands::assess::drawing::{
    band, group_style, intervals, level, line, places, points, upright, values,
};

/// Panels of pairs.
pub fn of_pairs(found: &Pairs<'_>) -> Vec<Figure> {
    vec![differences(found), both(found)]
}

fn named(what: &str, value: f64) -> String {
    format!("{what} {}", significant(value, 3))
}

fn differences(found: &Pairs<'_>) -> Figure {
    let agreement = &found.agreement;
    let pairs = || found.first.iter().zip(found.second);
    let x: Vec<f64> = pairs().map(|(a, b)| f64::midpoint(*a, *b)).collect();
    let y: Vec<f64> = pairs().map(|(a, b)| a - b).collect();
    let half = agreement.limit_half_width;
    let mut heights = y.clone();
    heights.extend([agreement.limits.0 - half, agreement.limits.1 + half]);
    if let Some(equivalence) = &found.equivalence {
        heights.extend([-equivalence.margin, equivalence.margin]);
    }
    let axis = Axis::holding("mean of both readings", "", x.iter().copied());
    let ends = [axis.low, axis.high];
    let around = |at: f64| [(at - half, at + half); 2];
    let mut figure = Figure::new(
        "differences",
        "Difference against level",
        axis,
        Axis::holding(format!("{} less {}", found.first_name, found.second_name), "", heights),
    )
    .with(band("", &ends, &around(agreement.limits.0), Ink::Slate))
    .with(band("uncertainty of bias and limits", &ends, &around(agreement.limits.1), Ink::Slate))
    .with(band("", &ends, &[agreement.bias_interval; 2], Ink::Slate));
    if let Some(equivalence) = &found.equivalence {
        for margin in [-equivalence.margin, equivalence.margin] {
            figure = figure.with(level(&named("margin", margin), margin, Ink::Plum, Dash::Dashed));
        }
    }
    figure
        .with(level("", 0.0, Ink::Grey, Dash::Dotted))
        .with(level(&named("bias", agreement.bias), agreement.bias, Ink::Slate, Dash::Solid))
        .with(level(
            &named("limit", agreement.limits.0),
            agreement.limits.0,
            Ink::Slate,
            Dash::Long,
        ))
        .with(level(
            &named("limit", agreement.limits.1),
            agreement.limits.1,
            Ink::Slate,
            Dash::Long,
        ))
        .with(points("", &x, &y, Marker::Disc, Ink::Black))
        .described(
            format!(
                "{} units. Limits of agreement: bias and {} standard deviations either way.",
                agreement.n,
                significant(agreement.multiplier, 3)
            ),
            "Differences of two readings against their mean.",
        )
}

fn both(found: &Pairs<'_>) -> Figure {
    let all = || found.first.iter().chain(found.second).copied();
    let axis = Axis::holding(found.first_name, "", all());
    let x = places(axis.low, axis.high);
    let mut figure =
        Figure::new("both", "Both readings", axis, Axis::holding(found.second_name, "", all()))
            .with(line("equal", &x, &x, Ink::Grey, Dash::Dotted));
    if let Some(of) = &found.deming {
        let y = values(&x, |at| of.intercept + of.slope * at);
        figure = figure.with(line("errors on both axes", &x, &y, Ink::Slate, Dash::Solid));
    }
    if let Some(of) = &found.ranks {
        let y = values(&x, |at| of.intercept + of.slope * at);
        figure = figure.with(line("by ranks", &x, &y, Ink::Rust, Dash::Dashed));
    }
    figure.with(points("", found.first, found.second, Marker::Disc, Ink::Black)).described(
        "Lines: Deming (errors on both axes) and Passing and Bablok (by ranks).",
        "Second reading against the first.",
    )
}

/// Panels of two groups.
pub fn of_groups(found: &Groups) -> Vec<Figure> {
    let [a, b] = &found.summaries;
    let names = vec![a.label.clone(), b.label.clone()];
    let heights = found.values.iter().flatten().copied();
    let mut readings = Figure::new(
        "groups",
        "Readings of both groups",
        Axis::named("", names),
        Axis::holding("reading", "", heights),
    );
    for (index, list) in found.values.iter().enumerate() {
        let n = list.len() as f64;
        let x: Vec<f64> =
            (0..list.len()).map(|i| index as f64 + 0.3 + 0.4 * (i as f64 + 0.5) / n).collect();
        let (marker, ink) = group_style(index);
        let mean = found.summaries[index].mean;
        let ends = [index as f64 + 0.25, index as f64 + 0.75];
        readings = readings.with(points("", &x, list, marker, ink)).with(line(
            "",
            &ends,
            &[mean, mean],
            Ink::Black,
            Dash::Solid,
        ));
    }
    let readings = readings
        .described("Black lines: means. Readings stand in order.", "Readings of two groups.");
    let equivalence = &found.equivalence;
    let margin = equivalence.margin;
    let ends = equivalence.interval;
    let interval = Figure::new(
        "equivalence",
        "Difference and margin",
        Axis::named("", vec![format!("{} less {}", a.label, b.label)]),
        Axis::holding("difference", "", [-margin, margin, ends.0, ends.1]),
    )
    .with(band("within the margin", &[0.0, 1.0], &[(-margin, margin); 2], Ink::Grey))
    .with(level(&named("margin", -margin), -margin, Ink::Plum, Dash::Dashed))
    .with(level(&named("margin", margin), margin, Ink::Plum, Dash::Dashed))
    .with(level("", 0.0, Ink::Grey, Dash::Dotted))
    .with(intervals("", &[0.5], &[equivalence.difference], &[ends], Marker::Disc, Ink::Black))
    .described(
        "Equivalence is shown where the whole interval lies within the margin.",
        "Interval of the difference beside the margin.",
    );
    vec![readings, interval]
}

/// Chances by number of units in the first of two groups.
pub fn two_groups(command: &Compare, curve: &[Chance], n: usize) -> Figure {
    let x: Vec<f64> = curve.iter().map(|c| c.units.0 as f64).collect();
    let mut figure = Figure::new(
        "power",
        "Chance by size of the first group",
        Axis::holding("units in the first group", "", x.iter().copied()),
        Axis::linear("chance", "", 0.0, 1.0),
    );
    let equivalence: Vec<f64> = curve.iter().filter_map(|c| c.equivalence).collect();
    let difference: Vec<f64> = curve.iter().filter_map(|c| c.difference).collect();
    for (label, heights, ink) in [
        ("equivalence is shown", equivalence, Ink::Slate),
        ("the difference is seen", difference, Ink::Rust),
    ] {
        if heights.len() == x.len() {
            figure = figure.with(line(label, &x, &heights, ink, Dash::Solid));
        }
    }
    figure
        .with(level(&named("wanted", command.power), command.power, Ink::Grey, Dash::Dotted))
        .with(upright(&format!("{n} units"), n as f64, Ink::Plum, Dash::Solid))
        .described("Welch's tests of two groups.", "Power against size of the first group.")
}

/// Power by number of pairs.
pub fn power(command: &Compare, curve: &[Power], n: usize) -> Figure {
    let x: Vec<f64> = curve.iter().map(|p| p.n as f64).collect();
    let shown: Vec<f64> = curve.iter().map(|p| p.equivalence).collect();
    let seen: Vec<f64> = curve.iter().map(|p| p.difference).collect();
    Figure::new(
        "power",
        "Chance by number of pairs",
        Axis::holding("pairs", "", x.iter().copied()),
        Axis::linear("chance", "", 0.0, 1.0),
    )
    .with(line("equivalence is shown", &x, &shown, Ink::Slate, Dash::Solid))
    .with(line("a difference of the margin is seen", &x, &seen, Ink::Rust, Dash::Dashed))
    .with(level(&named("wanted", command.power), command.power, Ink::Grey, Dash::Dotted))
    .with(upright(&format!("{n} pairs"), n as f64, Ink::Plum, Dash::Solid))
    .described("Two one-sided tests of pairs.", "Power against number of pairs.")
}

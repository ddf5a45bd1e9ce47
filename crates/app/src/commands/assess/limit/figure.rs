//! The limit drawn: readings in order with their limit, groups with theirs,
//! or the populations on both sides of it.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::{percent, significant};

use super::Limit;
use super::result::Found;
use crate::commands::assess::drawing::{
    band, group_style, intervals, level, line, places, points, stretch, upright, values,
};

/// The panels of the answer.
pub fn panels(command: &Limit, found: &Found, guarded: Option<f64>) -> Vec<Figure> {
    let mut panels = Vec::new();
    if !found.readings.is_empty() {
        panels.push(readings(command, found, guarded));
    }
    if !found.groups.is_empty() {
        panels.push(groups(command, found));
    }
    let leak = command.leak_mean.zip(command.leak_sd);
    if found.plain_scale && (leak.is_some() || panels.is_empty()) {
        panels.push(populations(command, found, guarded, leak));
    }
    panels
}

fn said(command: &Limit) -> String {
    format!(
        "The limit holds {} of the population with {} confidence.",
        report::number::shortest_percent(command.content),
        percent(command.confidence, 0)
    )
}

fn readings(command: &Limit, found: &Found, guarded: Option<f64>) -> Figure {
    let column = command.column.clone().unwrap_or_default();
    let mut heights: Vec<f64> = found.readings.iter().map(|reading| reading.0).collect();
    heights.extend([found.limit, found.mean].into_iter().filter(|_| found.plain_scale));
    heights.push(found.limit);
    heights.extend(guarded.into_iter().chain(found.lower));
    heights.extend(found.lots.as_ref().map(|lots| lots.pooled_limit));
    let mut lots: Vec<(&str, Vec<f64>)> = Vec::new();
    for (value, name) in &found.readings {
        match lots.iter_mut().find(|lot| lot.0 == name) {
            Some(lot) => lot.1.push(*value),
            None => lots.push((name, vec![*value])),
        }
    }
    if lots.len() > 1 {
        // Room for the names of lots above the limit.
        let high = heights.iter().copied().fold(f64::MIN, f64::max);
        let low = heights.iter().copied().fold(f64::MAX, f64::min);
        heights.push(high + 0.15 * (high - low));
    }
    let x_label = if lots.len() > 1 { "reading, lot by lot" } else { "reading, in order" };
    let n = found.readings.len() as f64;
    let mut figure = Figure::new(
        "limit",
        "Negative controls and their reject limit",
        Axis::linear(x_label, "", 0.0, n + 1.0),
        Axis::holding(column, "", heights),
    );
    let mut from = 0.5;
    for (index, (name, values)) in lots.iter().enumerate() {
        let to = from + values.len() as f64;
        if lots.len() > 1 {
            let label = format!("{} {name}", command.lot.as_deref().unwrap_or(""));
            figure = figure.with(stretch(label.trim(), from, to));
        }
        let x: Vec<f64> = (0..values.len()).map(|i| from + 0.5 + i as f64).collect();
        let (marker, ink) = group_style(index);
        figure = figure.with(points("", &x, values, marker, ink));
        if let Some(mean) = digits::sums::mean(values).filter(|_| lots.len() > 1) {
            figure = figure.with(line("", &[from, to], &[mean, mean], Ink::Black, Dash::Solid));
        }
        from = to;
    }
    let name = |what: &str, value: f64| format!("{what} {}", significant(value, 4));
    if let Some(lots) = &found.lots {
        let label = name("lots pooled", lots.pooled_limit);
        figure = figure.with(level(&label, lots.pooled_limit, Ink::Grey, Dash::Dashed));
    } else if found.plain_scale {
        figure = figure.with(level(&name("mean", found.mean), found.mean, Ink::Grey, Dash::Dotted));
    }
    let what = if found.lots.is_some() { "limit for a future lot" } else { "limit" };
    figure = figure.with(level(&name(what, found.limit), found.limit, Ink::Plum, Dash::Solid));
    if let Some(lower) = found.lower {
        figure = figure.with(level(&name("lower limit", lower), lower, Ink::Plum, Dash::Solid));
    }
    if let Some(guarded) = guarded {
        let label = name("with guard band", guarded);
        figure = figure.with(level(&label, guarded, Ink::Plum, Dash::DashDot));
    }
    let lots = if lots.len() > 1 { " Short black lines are the means of lots." } else { "" };
    let caption = format!("{} Method: {}.{lots}", said(command), found.method);
    let alt = format!("{} readings; limit {}.", found.readings.len(), significant(found.limit, 4));
    figure.described(caption, alt)
}

fn groups(command: &Limit, found: &Found) -> Figure {
    let names: Vec<String> = found.groups.iter().map(|(group, _)| group.label.clone()).collect();
    let x: Vec<f64> = (0..names.len()).map(|i| i as f64 + 0.5).collect();
    let of = |value: &dyn Fn(&super::result::Found, usize) -> f64| -> Vec<f64> {
        (0..names.len()).map(|index| value(found, index)).collect()
    };
    let means = of(&|found, i| found.groups[i].0.mean);
    let limits = of(&|found, i| found.groups[i].1.limit);
    let ends: Vec<(f64, f64)> = found
        .groups
        .iter()
        .map(|(group, _)| {
            (group.mean - group.standard_deviation, group.mean + group.standard_deviation)
        })
        .collect();
    let heights = limits.iter().copied().chain(ends.iter().flat_map(|e| [e.0, e.1]));
    let heights: Vec<f64> = heights.chain([found.limit]).collect();
    Figure::new(
        "groups",
        "Limit of each group beside the pooled one",
        Axis::named("", names),
        Axis::holding("reading", "", heights),
    )
    .with(level(
        &format!("pooled {}", significant(found.limit, 4)),
        found.limit,
        Ink::Grey,
        Dash::Dashed,
    ))
    .with(intervals("mean and standard deviation", &x, &means, &ends, Marker::Disc, Ink::Slate))
    .with(points("limit of the group", &x, &limits, Marker::Diamond, Ink::Plum))
    .described(said(command), "Limits by group.")
}

/// Densities of good units and of units with the leak, with the limit.
fn populations(
    command: &Limit,
    found: &Found,
    guarded: Option<f64>,
    leak: Option<(f64, f64)>,
) -> Figure {
    let good = (found.mean, found.standard_deviation.max(f64::MIN_POSITIVE));
    let mut ends = vec![good.0 - 4.0 * good.1, good.0 + 4.0 * good.1, found.limit];
    if let Some((mean, sd)) = leak {
        ends.extend([mean - 4.0 * sd, mean + 4.0 * sd]);
    }
    let axis = Axis::holding("reading", "", ends);
    let density = |(mean, sd): (f64, f64), x: f64| {
        let z = (x - mean) / sd;
        digits::scalar::exp(-0.5 * z * z) / (sd * (2.0 * std::f64::consts::PI).sqrt())
    };
    let x = places(axis.low, axis.high);
    let top = density(good, good.0).max(leak.map_or(0.0, |leak| density(leak, leak.0)));
    let curve = |of: (f64, f64)| values(&x, |at| density(of, at) / top);
    let beyond = |of: (f64, f64), above: bool| -> Vec<(f64, f64)> {
        let inside = |at: f64| (at >= found.limit) == above;
        x.iter().map(|at| (0.0, if inside(*at) { density(of, *at) / top } else { 0.0 })).collect()
    };
    let mut figure = Figure::new(
        "populations",
        if leak.is_some() { "Both errors of the limit" } else { "The limit in its population" },
        axis,
        Axis::linear("density, highest = 1", "", 0.0, 1.1),
    )
    .with(band("", &x, &beyond(good, true), Ink::Slate))
    .with(line("units without a leak", &x, &curve(good), Ink::Slate, Dash::Solid));
    if let Some(leak) = leak {
        figure = figure.with(band("", &x, &beyond(leak, false), Ink::Rust)).with(line(
            "units with the leak",
            &x,
            &curve(leak),
            Ink::Rust,
            Dash::Dashed,
        ));
    }
    let label = format!("limit {}", significant(found.limit, 4));
    figure = figure.with(upright(&label, found.limit, Ink::Plum, Dash::Solid));
    if let Some(guarded) = guarded {
        let label = format!("with guard band {}", significant(guarded, 4));
        figure = figure.with(upright(&label, guarded, Ink::Plum, Dash::DashDot));
    }
    let caption = format!(
        "Normal populations with the means and standard deviations found. Shaded: good units \
         rejected{}. {}",
        if leak.is_some() { " and leaks missed" } else { "" },
        said(command)
    );
    figure.described(caption, format!("Limit {}.", significant(found.limit, 4)))
}

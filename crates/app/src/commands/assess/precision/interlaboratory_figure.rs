//! Consistency between laboratories: h and k of ASTM E691.

use report::figure::{Axis, Dash, Figure, Ink, Marker};
use report::number::significant;

use super::interlaboratory::Level;
use crate::commands::assess::drawing::{group_style, level, points};

/// Panels of h and k over laboratories, levels told apart by marker.
pub fn panels(levels: &[Level]) -> Vec<Figure> {
    let Some(first) = levels.first().filter(|level| level.names.len() > 1) else {
        return Vec::new();
    };
    let names = first.names.clone();
    let h = panel(
        levels,
        &names,
        "h",
        "Between laboratories: h",
        |l| &l.figures.h,
        |l| l.critical_h.map(|h| vec![-h, h]).unwrap_or_default(),
    );
    let mut panels = vec![h];
    if levels.iter().any(|level| !level.figures.k.is_empty()) {
        panels.push(panel(
            levels,
            &names,
            "k",
            "Within laboratories: k",
            |l| &l.figures.k,
            |l| l.critical_k.map(|k| vec![k]).unwrap_or_default(),
        ));
    }
    panels
}

fn panel(
    levels: &[Level],
    names: &[String],
    letter: &str,
    title: &str,
    values: impl Fn(&Level) -> &Vec<f64>,
    limits: impl Fn(&Level) -> Vec<f64>,
) -> Figure {
    let mut heights: Vec<f64> = levels.iter().flat_map(|level| values(level).clone()).collect();
    heights.extend(levels.iter().flat_map(&limits));
    heights.push(0.0);
    let mut figure = Figure::new(
        letter,
        title,
        Axis::named("laboratory", names.to_vec()),
        Axis::holding(letter, "", heights),
    )
    .with(level("", 0.0, Ink::Black, Dash::Solid));
    if let Some(first) = levels.first() {
        for limit in limits(first) {
            let label = if limit > 0.0 {
                format!("critical {letter} {}", significant(limit, 3))
            } else {
                String::new()
            };
            figure = figure.with(level(&label, limit, Ink::Plum, Dash::Dashed));
        }
    }
    let n = levels.len() as f64;
    for (index, of_level) in levels.iter().enumerate() {
        let shown = values(of_level);
        let shift = 0.5 * ((index as f64 + 0.5) / n - 0.5);
        let x: Vec<f64> = (0..shown.len()).map(|i| i as f64 + 0.5 + shift).collect();
        let (marker, ink) = group_style(index);
        let marker = if levels.len() == 1 { Marker::Disc } else { marker };
        figure = figure.with(points(&of_level.name, &x, shown, marker, ink));
    }
    figure.height_pt = 190.0;
    figure.described(
        if letter == "h" {
            "h: how many standard deviations of the averages a laboratory lies from the mean of \
             all. All levels on one side speak of a calibration."
        } else {
            "k: scatter of a laboratory over the pooled scatter. Large k in one laboratory speaks \
             of its repeatability."
        },
        format!("Consistency statistic {letter}."),
    )
}

//! The forecast: what the test is expected to see, and what limits it.

use study::forecast::{Edge, LiquidSide};
use study::{Case, Forecast};

use super::forecast_figures::{curve, measure_stage, traces};
use super::wording::sentence;
use crate::document::{Block, Column, DataTable, FigureBlock, KeyValue, Section, Words};
use crate::figure::FigureError;
use crate::number::{count, interval, percent, quantity, shortest_percent, significant};

pub(super) fn section(case: &Case) -> Result<Option<Section>, FigureError> {
    let Some(forecast) = &case.forecast else { return Ok(None) };
    let mut section = Section::new("forecast", "Forecast")
        .paragraph(sentence(&forecast.verdict.because))
        .with(Block::KeyValues(figures(case, forecast)));
    let pass = forecast.pass_statement(&case.input);
    section = section
        .paragraph(Words::default().strong("What a pass says. ").plain(sentence(&pass.says)));
    if !pass.leaves_open.is_empty() {
        section = section.paragraph(format!("It leaves open: {}.", pass.leaves_open.join("; ")));
    }
    for figure in
        [traces(forecast), measure_stage(forecast), curve(case, forecast)].into_iter().flatten()
    {
        section = section.with(Block::Figure(FigureBlock::of(&figure)?));
    }
    section = section.with(Block::Table(limits(forecast)));
    if forecast.unknowns.iter().any(|unknown| unknown.share.abs() >= LEAST_SHARE) {
        section = section.with(Block::Table(unknowns(forecast)));
    }
    Ok(Some(section))
}

fn figures(case: &Case, forecast: &Forecast) -> Vec<KeyValue> {
    let window = &forecast.window;
    let asked = case.input.profile.purpose.required_detection.fraction();
    let mut pairs = vec![
        KeyValue::new("Detection asked for", shortest_percent(asked)),
        KeyValue::new("Smallest detectable leak", edge(window.smallest)),
        KeyValue::new("Largest detectable leak", edge(window.largest)),
    ];
    if let Some((from, to)) = forecast.blind_gap_um {
        pairs.push(KeyValue::new("Missed above the window", interval(from, to, 3, "µm")));
    }
    if let Some(found) = &forecast.liquid_side {
        pairs.extend(under_the_liquid(found));
    }
    pairs.extend([
        KeyValue::new(
            "Tight unit",
            format!(
                "rise {}, standard deviation {}",
                quantity(forecast.tight_rise_pa, 3, "Pa"),
                quantity(forecast.tight_rise_sd_pa, 2, "Pa")
            ),
        ),
        KeyValue::new(
            "Tight units rejected",
            forecast.false_rejects.as_ref().map_or_else(
                || "not forecast by this version".to_owned(),
                |rejects| {
                    format!(
                        "{} (90 % interval {} to {}); tolerable {}",
                        percent(rejects.probability, 2),
                        percent(rejects.low, 2),
                        percent(rejects.high, 2),
                        percent(rejects.tolerable, 2)
                    )
                },
            ),
        ),
        KeyValue::new("Rise limit used", quantity(forecast.rise_limit_pa, 3, "Pa")),
        KeyValue::new("Reach limit used", quantity(forecast.reach_limit_pa, 3, "Pa")),
        KeyValue::new(
            "Headspace emptied into the chamber",
            quantity(forecast.headspace.ceiling_pa, 3, "Pa"),
        ),
        KeyValue::new(
            "Draws over the uncertain inputs",
            format!(
                "{}, seed {}; {} of them have a window",
                count(forecast.n_draws as u64),
                forecast.seed,
                percent(window.share_of_draws_with_window, 0)
            ),
        ),
    ]);
    pairs
}

/// Leaks under the liquid: what surface tension holds, and what is found.
fn under_the_liquid(found: &LiquidSide) -> [KeyValue; 3] {
    let spread = found.spread.as_ref();
    let with = |um: f64, found: Option<(f64, f64)>| match found {
        Some((low, high)) => {
            format!("{} (90 % interval {})", quantity(um, 3, "µm"), interval(low, high, 3, "µm"))
        }
        None => quantity(um, 3, "µm"),
    };
    let smallest = found.smallest_um.map_or_else(
        || "none".to_string(),
        |um| with(um, spread.and_then(|spread| spread.smallest_um)),
    );
    [
        KeyValue::new(
            "Under the liquid, held back by surface tension below",
            format!("bore of {}", with(found.opens_um, spread.map(|spread| spread.opens_um))),
        ),
        KeyValue::new("Under the liquid, smallest bore found", smallest),
        KeyValue::new(
            "Lowest chamber pressure over vapour pressure",
            format!(
                "{} over {}{}",
                quantity(found.chamber_pa, 3, "Pa"),
                quantity(found.vapour_pressure_pa, 3, "Pa"),
                spread.map_or_else(String::new, |spread| format!(
                    "; boils in {} of the draws",
                    percent(spread.share_that_boils, 0)
                ))
            ),
        ),
    ]
}

fn edge(edge: Option<Edge>) -> String {
    match edge {
        None => "none".to_string(),
        Some(edge) => format!(
            "{}{} flow-equivalent (90 % interval {})",
            if edge.beyond_range { "at least " } else { "" },
            quantity(edge.um, 3, "µm"),
            interval(edge.low_um, edge.high_um, 3, "µm")
        ),
    }
}

/// Unknowns with less of the spread than this are left out.
const LEAST_SHARE: f64 = 0.005;

/// Which unknown is worth knowing better.
fn unknowns(forecast: &Forecast) -> DataTable {
    let mut table = DataTable::new(
        "unknowns",
        "Which unknown widens the window most: uncertain inputs by their share of the spread of the \
         smallest detectable leak",
        vec![
            Column::words("Input", 1.0),
            Column::words("Value is", 0.5),
            Column::number("Uncertainty"),
            Column::number("Interval left if known"),
            Column::number("Share"),
        ],
    );
    for unknown in &forecast.unknowns {
        if unknown.share.abs() >= LEAST_SHARE {
            let stated = if unknown.uncertainty_stated { "" } else { " (not stated)" };
            table.push([
                unknown.input.clone(),
                unknown.origin.word().to_owned(),
                format!("{}{stated}", percent(unknown.relative_sd, 1)),
                percent(unknown.width_if_known, 0),
                percent(unknown.share, 0),
            ]);
        }
    }
    table
}

fn limits(forecast: &Forecast) -> DataTable {
    let mut table = DataTable::new(
        "limited-by",
        "What a tight unit shows in the measure stage, by cause",
        vec![Column::words("Cause", 1.0), Column::number("Size (Pa)"), Column::number("Share")],
    );
    for share in &forecast.limited_by {
        table.push([share.cause.clone(), significant(share.pa, 3), percent(share.share, 0)]);
    }
    table
}

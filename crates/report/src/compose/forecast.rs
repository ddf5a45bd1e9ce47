//! The forecast: what the test is expected to see, and what limits it.

use study::forecast::Edge;
use study::{Case, Forecast};

use super::forecast_figures::{curve, measure_stage, traces};
use super::wording::sentence;
use crate::document::{Block, Column, DataTable, FigureBlock, KeyValue, Section};
use crate::figure::FigureError;
use crate::number::{count, interval, percent, quantity, significant};

pub(super) fn section(case: &Case) -> Result<Option<Section>, FigureError> {
    let Some(forecast) = &case.forecast else { return Ok(None) };
    let mut section = Section::new("forecast", "Forecast")
        .paragraph(sentence(&forecast.verdict.because))
        .with(Block::KeyValues(figures(forecast)));
    for figure in
        [traces(forecast), measure_stage(forecast), curve(case, forecast)].into_iter().flatten()
    {
        section = section.with(Block::Figure(FigureBlock::of(&figure)?));
    }
    Ok(Some(section.with(Block::Table(limits(forecast)))))
}

fn figures(forecast: &Forecast) -> Vec<KeyValue> {
    let window = &forecast.window;
    let mut pairs = vec![
        KeyValue::new("Smallest detectable leak", edge(window.smallest)),
        KeyValue::new("Largest detectable leak", edge(window.largest)),
    ];
    if let Some((from, to)) = forecast.blind_gap_um {
        pairs.push(KeyValue::new("Missed above the window", interval(from, to, 3, "µm")));
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

//! Charts that remember: weighted moving average and cumulative sums.

use statistics::control_charts::{cusum, ewma};

use super::Routine;
use super::chart::{Chart, Signal, Sums, basis, series};
use crate::commands::assess::told::told;
use crate::fault::Fault;

fn origin(first: usize) -> &'static str {
    if first == 0 { "centre and sigma as given" } else { "sigma from moving ranges of two" }
}

/// Exponentially weighted moving average.
pub fn smoothed(
    command: &Routine,
    readings: &[f64],
    samples: Option<&[&str]>,
) -> Result<Chart, Fault> {
    let (values, names) = series(readings, samples);
    let mut notes = Vec::new();
    let (first, center, sigma, _) = basis(command, &values, &mut notes)?;
    let found = ewma::ewma(&values, center, sigma, command.lambda, command.width)?;
    let signals = found.signals.iter().map(|place| Signal {
        position: *place,
        rule: "beyond-limits",
        value: found.values[*place],
    });
    Ok(Chart {
        told: vec![told("chart", &found).without_note("signals")],
        method: format!("{}, {}", found.method, origin(first)),
        names,
        signals: signals.collect(),
        plotted: found.values,
        values,
        first,
        center,
        sigma,
        lower: found.limits.0,
        upper: found.limits.1,
        by_value: Some(found.limits_by_reading),
        sums: None,
        spread: None,
        notes,
    })
}

/// Two-sided cumulative sums.
pub fn summed(
    command: &Routine,
    readings: &[f64],
    samples: Option<&[&str]>,
) -> Result<Chart, Fault> {
    let (values, names) = series(readings, samples);
    let mut notes = Vec::new();
    let (first, center, sigma, _) = basis(command, &values, &mut notes)?;
    let decision = command.decision * sigma;
    let found = cusum::cusum(&values, center, command.allowance * sigma, decision)?;
    let signals = found.signals.iter().map(|place| {
        let up = found.high[*place] > decision;
        Signal {
            position: *place,
            rule: if up { "sum-above-decision" } else { "sum-below-decision" },
            value: if up { found.high[*place] } else { -found.low[*place] },
        }
    });
    Ok(Chart {
        told: vec![told("chart", &found).without_note("signals")],
        method: format!("{}, frozen limits, {}", found.method, origin(first)),
        names,
        signals: signals.collect(),
        plotted: values.clone(),
        values,
        first,
        center,
        sigma,
        lower: -decision,
        upper: decision,
        by_value: None,
        sums: Some(Sums { high: found.high, low: found.low }),
        spread: None,
        notes,
    })
}

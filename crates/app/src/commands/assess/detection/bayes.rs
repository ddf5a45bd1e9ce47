//! Bayesian curve with a stated normal prior, on the axis of the fit.

use serde_json::{Value, json};
use statistics::detection::HitMiss;
use statistics::detection::posterior::{Grid, NormalPrior, Posterior, logistic_posterior};

use super::{Detection, Scale};
use crate::answer::{number, optional};
use crate::fault::Fault;

/// Two numbers with a comma between: mean and standard deviation.
pub fn pair(text: &str) -> Result<(f64, f64), String> {
    let (mean, sd) = text.split_once(',').ok_or("write mean,standard deviation, such as 0,5")?;
    let number =
        |text: &str| text.trim().parse::<f64>().map_err(|_| format!("`{text}` is not a number"));
    let (mean, sd) = (number(mean)?, number(sd)?);
    if mean.is_finite() && sd > 0.0 && sd.is_finite() {
        Ok((mean, sd))
    } else {
        Err("the standard deviation must be above zero".to_owned())
    }
}

/// Half width of the grid in standard deviations of the prior.
const REACH: f64 = 8.0;

/// The posterior, where a prior was stated.
pub fn posterior(command: &Detection, data: &[HitMiss]) -> Result<Option<Posterior>, Fault> {
    let (Some(intercept), Some(slope)) = (command.prior_intercept, command.prior_slope) else {
        return Ok(None);
    };
    let log = command.scale == Scale::Log;
    let rows: Vec<(f64, u64, u64)> = data
        .iter()
        .filter(|row| !log || row.size > 0.0)
        .map(|row| {
            let x = if log { digits::scalar::ln(row.size) } else { row.size };
            (x, row.hits, row.of)
        })
        .collect();
    let prior = NormalPrior {
        intercept_mean: intercept.0,
        intercept_sd: intercept.1,
        slope_mean: slope.0,
        slope_sd: slope.1,
        correlation: command.prior_correlation,
    };
    let ends = |(mean, sd): (f64, f64)| (mean - REACH * sd, mean + REACH * sd);
    let grid = Grid {
        intercept: ends(intercept),
        intercept_points: 600,
        slope: ends(slope),
        slope_points: 600,
    };
    Ok(Some(logistic_posterior(&rows, Some(prior), grid)?))
}

/// Place on the axis as a size.
fn size(command: &Detection, place: Option<f64>) -> Option<f64> {
    let place = place?;
    let size = if command.scale == Scale::Log { digits::scalar::exp(place) } else { place };
    size.is_finite().then_some(size)
}

/// Size that the posterior holds with the given share, at probability 0.9.
pub fn a90(command: &Detection, posterior: &Posterior, share: f64) -> Option<f64> {
    size(command, posterior.place_quantile(0.9, share))
}

/// As JSON.
pub fn json(command: &Detection, posterior: &Posterior) -> Value {
    json!({
        "method": posterior.method,
        "intercept_mean": number(posterior.intercept_mean),
        "intercept_sd": number(posterior.intercept_sd),
        "slope_mean": number(posterior.slope_mean),
        "slope_sd": number(posterior.slope_sd),
        "rising": number(posterior.rising),
        "a90": optional(a90(command, posterior, 0.5)),
        "a90_95": optional(a90(command, posterior, command.confidence)),
    })
}

//! A limit for a unit of a future lot.

use statistics::tolerance_limits::random_lots::{self, LotLimit, Pivot};
use statistics::tolerance_limits::upper_limit_from_values;

use super::result::Found;
use super::{Limit, Method};
use crate::answer::from_statistics;
use crate::commands::assess::told::told;
use crate::commands::assess::{checks, tables};
use crate::fault::Fault;

/// The limit of random lots, on the scale of the readings or of their
/// logarithms.
pub fn found(
    command: &Limit,
    column: &str,
    values: &[f64],
    names: &[&str],
) -> Result<Found, Fault> {
    let logs = match command.method {
        Method::Normal => false,
        Method::Lognormal => true,
        Method::TwoSided | Method::Nonparametric | Method::BoxCox => {
            return Err(Fault::users(
                "random lots are offered for one-sided normal and lognormal limits",
                "use --method normal or lognormal, or leave out --lot",
            ));
        }
    };
    if logs && let Some(place) = values.iter().position(|value| *value <= 0.0) {
        return Err(Fault::users(
            format!("value number {} is {}, which has no logarithm", place + 1, values[place]),
            "use --method normal",
        ));
    }
    let scaled: Vec<f64> = if logs {
        values.iter().map(|value| ::digits::scalar::ln(*value)).collect()
    } else {
        values.to_vec()
    };
    let lots = tables::grouped(names, &scaled);
    let groups: Vec<Vec<f64>> = lots.iter().map(|lot| lot.1.clone()).collect();
    let mut result =
        random_lots::upper_limit(&groups, command.content, command.confidence, Pivot::Graded)?;
    // Shape and order are looked at within lots: the lots themselves may differ.
    let residuals: Vec<f64> = scaled
        .iter()
        .zip(names)
        .map(|(value, name)| {
            let lot = lots.iter().find(|lot| lot.0 == *name);
            value - lot.and_then(|lot| ::digits::sums::mean(&lot.1)).unwrap_or(0.0)
        })
        .collect();
    let within = upper_limit_from_values(&residuals, command.content, command.confidence)?;
    let mut assumptions = within.assumptions;
    checks::further(&residuals, &mut assumptions);
    assumptions.push(statistics::Assumption {
        name: "lots alike",
        test: "F of mean squares",
        p_value: Some(result.lots_differ_p_value),
        held: Some(result.lots_differ_p_value >= 0.05),
        finding: format!(
            "F = {:.3}, p = {:.4}; the limit allows for lots either way.",
            result.f, result.lots_differ_p_value
        ),
    });
    let mut notes = from_statistics(result.notes.clone());
    notes.extend(from_statistics(within.notes));
    if logs {
        notes.retain(|note| note.code != "price-of-a-lot");
        carry_back(&mut result);
    }
    let mut account = told("reject limit of a future lot", &result);
    if logs {
        let method = format!("{}, on logarithms", result.method);
        account = account.without_note("price-of-a-lot").by(method);
    }
    let total = (result.within_variance + result.between_variance.max(0.0)).sqrt();
    Ok(Found {
        told: account,
        method: format!("{}{}", result.method, if logs { ", on logarithms" } else { "" }),
        basis: format!("{column} by {}", command.lot.as_deref().unwrap_or("lot")),
        n: result.n,
        mean: result.mean,
        standard_deviation: total,
        factor: None,
        lower: None,
        limit: result.limit,
        groups: Vec::new(),
        readings: values
            .iter()
            .zip(names)
            .map(|(value, name)| (*value, (*name).to_owned()))
            .collect(),
        lots: Some(result),
        plain_scale: !logs,
        assumptions,
        notes,
    })
}

fn carry_back(limit: &mut LotLimit) {
    let exp = ::digits::scalar::exp;
    limit.limit = exp(limit.limit);
    limit.pooled_limit = exp(limit.pooled_limit);
    for (_, value) in &mut limit.with_more_lots {
        *value = exp(*value);
    }
}

//! One step in the mean of a record.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::{RandomStream, sums};

/// The most likely step.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ChangePoint {
    /// Place of the first value after the step, counted from 0.
    pub position: usize,
    /// Mean before.
    pub before: f64,
    /// Mean after.
    pub after: f64,
    /// Probability of so clear a step in a random order of the same values.
    pub p_value: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for ChangePoint {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values in the order of measurement")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "no step in the record",
                "random orders of the same values",
                self.p_value >= 0.05,
                format!("p = {:.4}.", self.p_value),
            ),
            Assumption::unchecked(
                "values independent of their neighbours",
                "von Neumann ratio",
                "alike neighbours make steps appear; look at the residuals about both means",
            ),
            Assumption::unchecked(
                "one step at most",
                "the same test on either side of the step",
                "only the most likely step is given",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Place and height of the largest standardised difference of means.
fn largest_step(values: &[f64]) -> (usize, f64) {
    let n = values.len() as f64;
    let mut sum = 0.0;
    let mut best = (1, 0.0);
    for (i, value) in values.iter().enumerate().take(values.len() - 1) {
        sum += value;
        let k = i as f64 + 1.0;
        // Values are centred: the squared difference of means, standardised.
        let height = sum * sum * n / (k * (n - k));
        if height > best.1 {
            best = (i + 1, height);
        }
    }
    best
}

/// Most likely step of the mean, with its probability from random orders.
///
/// Source: D. V. Hinkley, Biometrika 57 (1970) 1, for the estimate; the
/// permutation test needs no distribution, but independent values.
///
/// # Errors
/// Fewer than eight values, values that are not finite or do not vary, no
/// random orders.
pub fn change_point(values: &[f64], orders: u32, seed: u64) -> Result<ChangePoint, CannotSay> {
    cannot_say::at_least("values", 8, values.len())?;
    cannot_say::at_least("random orders", 99, orders as usize)?;
    cannot_say::all_finite("values", values)?;
    let mean = cannot_say::computed("the mean", sums::mean(values).unwrap_or(f64::NAN))?;
    let total = sums::squared_deviations(values).unwrap_or(0.0);
    if total == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values".into() });
    }
    cannot_say::computed("the spread", total)?;
    let mut centred: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let (position, height) = largest_step(&centred);
    let mut reached = 0_u32;
    for order in 0..orders {
        RandomStream::new(seed, u64::from(order)).shuffle(&mut centred);
        reached += u32::from(largest_step(&centred).1 >= height * (1.0 - 1e-12));
    }
    let p_value = (f64::from(reached) + 1.0) / (f64::from(orders) + 1.0);
    let mut notes = Vec::new();
    if p_value < 0.05 {
        notes.push(Note::new(
            "step",
            format!("The mean steps before value number {} (p {p_value:.3}).", position + 1),
            "Look for what changed there: a seal, a calibration, an operator.",
        ));
    }
    Ok(ChangePoint {
        position,
        before: sums::mean(&values[..position]).unwrap_or(mean),
        after: sums::mean(&values[position..]).unwrap_or(mean),
        p_value,
        n: values.len(),
        method: "largest difference of means, random orders",
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_planted_step_is_found() {
        let mut values: Vec<f64> =
            (0..30).map(|i| digits::RandomStream::new(2, i).normal()).collect();
        assert!(change_point(&values, 199, 1).unwrap().p_value > 0.05);
        for value in &mut values[18..] {
            *value += 4.0;
        }
        let result = change_point(&values, 199, 1).unwrap();
        assert_eq!(result.position, 18);
        assert!(result.p_value < 0.01);
    }
}

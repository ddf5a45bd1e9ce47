//! Effects of a two-level design, and which of them stand out.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::sums;

/// Effects with Lenth's pseudo standard error.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Effects {
    /// Name and effect: mean at the high less mean at the low level.
    pub effects: Vec<(String, f64)>,
    /// Pseudo standard error of an effect.
    pub pseudo_standard_error: f64,
    /// Size beyond which a single effect stands out at 5 %.
    pub margin: f64,
    /// Number of runs.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Effects {
    fn standing_out(&self) -> usize {
        self.effects.iter().filter(|(_, effect)| effect.abs() > self.margin).count()
    }
}

impl Account for Effects {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "runs")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "most effects are nothing",
                "share of effects beyond the margin",
                2 * self.standing_out() < self.effects.len(),
                format!("{} of {} effects stand out.", self.standing_out(), self.effects.len()),
            ),
            Assumption::unchecked(
                "runs independent, in random order",
                "from the plan",
                "results do not show it; run the order of the plan",
            ),
            Assumption::unchecked(
                "equal scatter of all runs",
                "repeated centre runs",
                "runs without repeats do not show it",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Effects of all products of up to `order` factors of a two-level design.
///
/// Source of the error: R. V. Lenth, Technometrics 31 (1989) 469.
///
/// # Errors
/// Runs and results of unequal number, levels other than -1 and 1, fewer than
/// four runs, all effects zero, values that are not finite.
pub fn effects(design: &[Vec<f64>], results: &[f64], order: usize) -> Result<Effects, CannotSay> {
    if design.len() != results.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "runs".into(),
            left_count: design.len(),
            right: "results".into(),
            right_count: results.len(),
        });
    }
    cannot_say::at_least("runs", 4, design.len())?;
    cannot_say::all_finite("results", results)?;
    let k = design[0].len();
    if k > 20 {
        return Err(CannotSay::OutOfRange {
            what: "the number of factors".into(),
            value: k as f64,
            allowed: "at most 20 factors".into(),
        });
    }
    for (i, run) in design.iter().enumerate() {
        if run.len() != k || run.iter().any(|v| v.abs() != 1.0) {
            return Err(CannotSay::OutOfRange {
                what: format!("a level of run {}", i + 1),
                value: run.iter().copied().find(|v| v.abs() != 1.0).unwrap_or(run.len() as f64),
                allowed: "-1 or 1".into(),
            });
        }
    }
    let half = design.len() as f64 / 2.0;
    let mut sets: Vec<u32> = (1..1_u32 << k).filter(|s| s.count_ones() as usize <= order).collect();
    sets.sort_by_key(|s| (s.count_ones(), s.reverse_bits()));
    sets.sort_by_key(|s| s.count_ones());
    let list: Vec<(String, f64)> = sets
        .iter()
        .map(|set| {
            let members: Vec<usize> = (0..k).filter(|j| set >> j & 1 == 1).collect();
            let name: Vec<String> = members
                .iter()
                .map(|j| char::from(b'A' + u8::try_from(*j).unwrap_or(0)).to_string())
                .collect();
            let total = sums::sum(
                design
                    .iter()
                    .zip(results)
                    .map(|(run, y)| members.iter().map(|j| run[*j]).product::<f64>() * y),
            );
            (name.join(":"), total / half)
        })
        .collect();
    let mut sizes: Vec<f64> = list.iter().map(|(_, e)| e.abs()).collect();
    let median = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        let n = values.len();
        if n % 2 == 1 { values[n / 2] } else { 0.5 * (values[n / 2 - 1] + values[n / 2]) }
    };
    let first = 1.5 * median(&mut sizes);
    let mut kept: Vec<f64> = sizes.into_iter().filter(|s| *s < 2.5 * first).collect();
    if kept.is_empty() || first == 0.0 {
        return Err(CannotSay::NoSpread { what: "the small effects".into() });
    }
    let error = cannot_say::computed("the pseudo standard error", 1.5 * median(&mut kept))?;
    let df = list.len() as f64 / 3.0;
    let margin = student_t::quantile(0.975, df) * error;
    Ok(Effects {
        effects: list,
        pseudo_standard_error: error,
        margin,
        n: design.len(),
        method: "two-level effects, pseudo standard error (Lenth)",
        notes: vec![Note::new(
            "sparse-effects-assumed",
            "The error is taken from the small effects; it holds if most effects are nothing.",
            "Repeat centre runs for an error of their own; include a unit near the critical size.",
        )],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::experiments::designs::full_factorial;

    #[test]
    fn a_planted_effect_is_found() {
        let design = full_factorial(3).unwrap();
        let noise = [0.1, -0.2, 0.05, 0.15, -0.1, 0.2, -0.05, -0.15];
        let results: Vec<f64> =
            design.iter().zip(noise).map(|(run, e)| 10.0 + 3.0 * run[1] + e).collect();
        let result = effects(&design, &results, 3).unwrap();
        let b = result.effects.iter().find(|(name, _)| name == "B").unwrap().1;
        assert!((b - 6.0).abs() < 0.2 && b > result.margin);
        assert!(effects(&design, &results[1..], 3).is_err());
        assert!(effects(&vec![vec![0.0]; 4], &[1.0; 4], 1).is_err());
    }
}

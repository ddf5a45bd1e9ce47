//! Surfaces through runs at three or more levels.

use statistics::CannotSay;
use statistics::experiments::{Surface, response_surface};
use statistics::regression::{LinearFit, least_squares};
use study::Note;

use super::factor::Factor;
use crate::answer::from_statistics;

/// A fitted model.
pub struct Model {
    /// Names of the coefficients, without constant and blocks.
    pub names: Vec<String>,
    /// Coefficients with their standard errors, likewise.
    pub coefficients: Vec<(f64, f64)>,
    /// The second-order surface, where the runs allow one.
    pub surface: Option<Surface>,
    /// The fit.
    pub fit: LinearFit,
    /// Name of the method.
    pub method: &'static str,
}

/// The largest model that the runs allow: second order; else straight and
/// squared terms; else straight terms.
pub fn fit(
    factors: &[Factor],
    runs: &[Vec<f64>],
    results: &[f64],
    blocks: Option<&[usize]>,
    notes: &mut Vec<Note>,
) -> Result<Model, CannotSay> {
    match response_surface(runs, results, blocks) {
        Ok(surface) => {
            notes.extend(from_statistics(surface.notes.clone()));
            let names = names(factors, true, true);
            let fit = surface.fit.clone();
            Ok(Model {
                coefficients: coefficients(&fit, names.len()),
                names,
                method: surface.method,
                surface: Some(surface),
                fit,
            })
        }
        Err(CannotSay::TooFew { .. } | CannotSay::NotDetermined { .. }) => {
            reduced(factors, runs, results, blocks, notes)
        }
        Err(refusal) => Err(refusal),
    }
}

/// Without interactions, and without squares where they cannot be told apart.
fn reduced(
    factors: &[Factor],
    runs: &[Vec<f64>],
    results: &[f64],
    blocks: Option<&[usize]>,
    notes: &mut Vec<Note>,
) -> Result<Model, CannotSay> {
    let k = factors.len();
    let column =
        |value: &dyn Fn(&[f64]) -> f64| -> Vec<f64> { runs.iter().map(|run| value(run)).collect() };
    let mut columns = vec![vec![1.0; runs.len()]];
    columns.extend((0..k).map(|j| column(&|run| run[j])));
    let squares: Vec<Vec<f64>> = (0..k).map(|j| column(&|run| run[j] * run[j])).collect();
    let mut block_columns = Vec::new();
    if let Some(blocks) = blocks {
        let last = blocks.iter().copied().max().unwrap_or(0);
        block_columns.extend((1..=last).map(|block| {
            blocks.iter().map(|b| f64::from(u8::from(*b == block))).collect::<Vec<f64>>()
        }));
    }
    let with = |more: &[Vec<f64>]| -> Vec<Vec<f64>> {
        columns.iter().chain(more).chain(&block_columns).cloned().collect()
    };
    let (fit, squared) = match least_squares(&with(&squares), results, None) {
        Ok(fit) => (fit, true),
        Err(_) => (least_squares(&with(&[]), results, None)?, false),
    };
    notes.push(Note::caution(
        "no-interactions",
        if squared {
            "the runs do not allow interactions: straight and squared terms were fitted"
        } else {
            "the runs allow straight terms only"
        },
        "add runs where an interaction is likely",
    ));
    let names = names(factors, squared, false);
    Ok(Model {
        coefficients: coefficients(&fit, names.len()),
        names,
        surface: None,
        fit,
        method: if squared {
            "straight and squared terms by least squares"
        } else {
            "straight terms by least squares"
        },
    })
}

fn coefficients(fit: &LinearFit, count: usize) -> Vec<(f64, f64)> {
    let pairs = fit.coefficients.iter().copied().zip(fit.standard_errors.iter().copied());
    pairs.skip(1).take(count).collect()
}

fn names(factors: &[Factor], squares: bool, mixed: bool) -> Vec<String> {
    let mut names: Vec<String> = factors.iter().map(|factor| factor.name.clone()).collect();
    if squares {
        names.extend(factors.iter().map(|factor| format!("{}²", factor.name)));
    }
    if mixed {
        for (i, first) in factors.iter().enumerate() {
            for second in &factors[i + 1..] {
                names.push(format!("{}:{}", first.name, second.name));
            }
        }
    }
    names
}

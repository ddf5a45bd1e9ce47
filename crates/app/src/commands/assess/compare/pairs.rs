//! Two readings of the same units.

use statistics::comparison::{
    Agreement, Equivalence, RankLine, bland_altman, equivalence_paired, passing_bablok,
};
use statistics::regression::errors_in_both::{BothAxes, deming};
use statistics::regression::straight_line;
use statistics::{Assumption, CannotSay};
use study::Note;

use super::{Compare, answer};
use crate::answer::{Answer, from_statistics};
use crate::commands::assess::checks;
use crate::fault::Fault;

/// Everything that was found in pairs.
pub struct Pairs<'a> {
    /// Name of the first column.
    pub first_name: &'a str,
    /// Name of the second column.
    pub second_name: &'a str,
    /// First readings.
    pub first: &'a [f64],
    /// Second readings.
    pub second: &'a [f64],
    /// Equivalence, where a margin was given.
    pub equivalence: Option<Equivalence>,
    /// Bias and limits of agreement.
    pub agreement: Agreement,
    /// Line with errors on both axes.
    pub deming: Option<BothAxes>,
    /// Line by ranks.
    pub ranks: Option<RankLine>,
}

fn kept<T>(result: Result<T, CannotSay>, code: &'static str, notes: &mut Vec<Note>) -> Option<T> {
    result
        .map_err(|refusal| {
            notes.push(Note::refusal(code, refusal.to_string(), refusal.next_step()));
        })
        .ok()
}

/// Runs on pairs.
pub fn run(
    command: &Compare,
    first_name: &str,
    second_name: &str,
    first: &[f64],
    second: &[f64],
) -> Result<Answer, Fault> {
    let agreement = bland_altman(first, second, command.multiplier, command.confidence)?;
    if agreement.standard_deviation == 0.0 {
        return Err(CannotSay::NoSpread { what: "the differences".into() }.into());
    }
    let mut notes = from_statistics(agreement.notes.clone());
    let equivalence = match command.margin {
        Some(margin) => Some(equivalence_paired(first, second, margin, command.alpha)?),
        None => {
            notes.push(answer::no_margin());
            None
        }
    };
    if let Some(found) = &equivalence {
        notes.extend(from_statistics(found.notes.clone()));
    }
    let line = kept(deming(first, second, command.variance_ratio), "no-line", &mut notes);
    let ranks = kept(passing_bablok(first, second, command.confidence), "no-rank-line", &mut notes);
    notes.extend(from_statistics(line.iter().flat_map(|line| line.notes.clone()).collect()));
    notes.extend(from_statistics(ranks.iter().flat_map(|line| line.notes.clone()).collect()));
    let assumptions = assumptions(first, second);
    let pairs = Pairs {
        first_name,
        second_name,
        first,
        second,
        equivalence,
        agreement,
        deming: line,
        ranks,
    };
    answer::of_pairs(command, &pairs, assumptions, notes)
}

fn assumptions(first: &[f64], second: &[f64]) -> Vec<Assumption> {
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let levels: Vec<f64> = first.iter().zip(second).map(|(a, b)| f64::midpoint(*a, *b)).collect();
    let level = straight_line(&levels, &differences)
        .map(|line| (line.slope_p_value(), format!("slope {:.4}", line.slope)));
    let sizes: Vec<f64> = {
        let mean = digits::sums::mean(&differences).unwrap_or(0.0);
        differences.iter().map(|d| (d - mean).abs()).collect()
    };
    let spread = straight_line(&levels, &sizes)
        .map(|line| (line.slope_p_value(), format!("slope {:.4}", line.slope)));
    vec![
        checks::normal("normal differences", &differences),
        checks::independent("differences independent in order", &differences),
        checks::one("one difference at every level", "difference against mean", 0.05, level),
        checks::one("one scatter at every level", "size of difference against mean", 0.05, spread),
    ]
}

//! When the study ends, and how often that is wrong.

use statistics::adaptive_study::{
    OperatingCharacteristics, Rule, TrueCurve, operating_characteristics,
};
use statistics::detection::HitMissFit;
use study::Note;

use super::NextSizeCommand;
use crate::answer::from_statistics;
use crate::fault::Fault;

/// Where the study stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Test the next size.
    GoOn,
    /// The bound lies at or below the critical size.
    Shown,
    /// All units are used.
    NotShown,
}

impl Outcome {
    /// Short word.
    pub fn word(self) -> &'static str {
        match self {
            Self::GoOn => "go on",
            Self::Shown => "stop: shown",
            Self::NotShown => "stop: not shown",
        }
    }
}

/// The rule under one true curve.
pub struct Simulated {
    /// Size truly found with the probability wanted, over the critical size.
    pub ratio: f64,
    /// How the rule behaves.
    pub found: OperatingCharacteristics,
}

/// True sizes tried, as multiples of the critical size: two at which yes is
/// wrong, then two at which it is right.
const RATIOS: [f64; 4] = [1.5, 1.1, 0.7, 0.4];

/// Whether to stop.
pub fn outcome(command: &NextSizeCommand, units: u64, bound: Option<f64>) -> Outcome {
    if units >= command.fewest_units && bound.is_some_and(|bound| bound <= command.critical) {
        Outcome::Shown
    } else if units >= command.most_units {
        Outcome::NotShown
    } else {
        Outcome::GoOn
    }
}

/// Error rates of the whole study under its rule.
pub fn simulated(
    command: &NextSizeCommand,
    fit: Option<&HitMissFit>,
    notes: &mut Vec<Note>,
) -> Result<Vec<Simulated>, Fault> {
    let rule = Rule {
        available: command.available.clone(),
        link: command.link.link(),
        probability: command.probability,
        confidence: command.confidence,
        critical_size: command.critical,
        fewest_units: command.fewest_units,
        most_units: command.most_units,
    };
    let slope = command.slope.or_else(|| fit.and_then(|fit| fit.slope));
    let Some(slope) = slope.filter(|slope| *slope > 0.0) else {
        notes.push(Note::refusal(
            "no-error-rates",
            "there is no rising curve yet, so that the error rates of the rule cannot be simulated",
            "give a likely --slope in the logarithm of size",
        ));
        return Ok(Vec::new());
    };
    if command.studies == 0 {
        return Ok(Vec::new());
    }
    let mut list = Vec::new();
    for ratio in RATIOS {
        let place = digits::scalar::ln(ratio * command.critical);
        let intercept = rule.link.line(command.probability) - slope * place;
        let truth = TrueCurve { link: rule.link, intercept, slope };
        let found = operating_characteristics(&rule, truth, command.studies, command.seed)?;
        notes.extend(from_statistics(found.notes.clone()));
        list.push(Simulated { ratio, found });
    }
    Ok(list)
}

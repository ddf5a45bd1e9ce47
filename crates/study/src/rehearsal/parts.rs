//! Which part of a plan is more or less than is needed.

use super::change::{Change, Part};
use super::{HIGH_CHANCE, LOW_CHANCE, Variant};
use crate::notes::Note;
use crate::plan::Plan;
use crate::runs::{DAY_SHARE, LOT_SHARE, RIG_SHARE, marks};
use crate::wording::rounded;

/// How the size of a part goes with what it is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Power {
    /// Twice as much would help, and as planned it is not enough.
    Under,
    /// Half would be enough.
    Over,
    /// Neither.
    Fits,
    /// It is not enough, and more of it does not help.
    NotTheCause,
}

impl Power {
    /// The words that are printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Under => "under-powered",
            Self::Over => "over-powered",
            Self::Fits => "in proportion",
            Self::NotTheCause => "not the cause",
        }
    }
}

/// A part of the plan with what half and twice of it come to.
#[derive(Debug, Clone, PartialEq)]
pub struct PartOfPlan {
    /// The part in words, such as lots.
    pub part: String,
    /// What it is judged by: the chance that every criterion is met, or, for
    /// days, lots and rigs, that the limit holds for others.
    pub judged_by: &'static str,
    /// That chance with half of it.
    pub half: f64,
    /// As planned.
    pub planned: f64,
    /// With twice of it.
    pub twice: f64,
    /// What follows.
    pub power: Power,
}

/// A change of a chance that is more than the luck of the draw: about two
/// standard errors of a difference over a thousand rehearsals on the same draws.
const MORE_THAN_LUCK: f64 = 0.03;
/// How far below the confidence asked for a limit may hold before it counts as
/// not enough. Working value.
const BELOW_CONFIDENCE: f64 = 0.05;

/// Every part of the plan that was varied.
pub(super) fn parts(
    changes: &[Change],
    variants: &[Variant],
    (all_met, limit_holds): (f64, f64),
    confidence: f64,
) -> Vec<PartOfPlan> {
    let of = |part: Part, is_twice: bool| {
        let wanted = Change { part: Some(part), is_twice };
        changes.iter().position(|change| *change == wanted).and_then(|place| variants.get(place))
    };
    [Part::Negative, Part::Positive, Part::Flows, Part::Days, Part::Lots, Part::Rigs]
        .into_iter()
        .filter_map(|part| {
            let (half, twice) = (of(part, false)?, of(part, true)?);
            let (half, planned, twice, enough, plenty) = if part.groups() {
                let enough = confidence - BELOW_CONFIDENCE;
                (half.limit_holds, limit_holds, twice.limit_holds, enough, confidence)
            } else {
                let met = (half.probability_all_met, twice.probability_all_met);
                (met.0, all_met, met.1, LOW_CHANCE, HIGH_CHANCE)
            };
            Some(PartOfPlan {
                part: part.words().to_owned(),
                judged_by: if part.groups() {
                    "limit holds for others"
                } else {
                    "all criteria met"
                },
                half,
                planned,
                twice,
                power: power((half, planned, twice), enough, plenty),
            })
        })
        .collect()
}

fn power((half, planned, twice): (f64, f64, f64), enough: f64, plenty: f64) -> Power {
    if planned < enough {
        if twice > planned + MORE_THAN_LUCK { Power::Under } else { Power::NotTheCause }
    } else if half >= plenty {
        Power::Over
    } else {
        Power::Fits
    }
}

/// Names the parts that are out of proportion.
pub(super) fn explain(parts: &[PartOfPlan]) -> Option<Note> {
    let of = |power: Power| {
        let found: Vec<&str> = parts
            .iter()
            .filter(|part| part.power == power)
            .map(|part| part.part.as_str())
            .collect();
        (!found.is_empty()).then(|| format!("{}: {}", power.word(), found.join(", ")))
    };
    let said: Vec<String> = [Power::Under, Power::Over].into_iter().filter_map(of).collect();
    (!said.is_empty()).then(|| {
        Note::remark(
            "parts-of-the-plan",
            said.join("; "),
            "move units from what is over-powered to what is under-powered, and rehearse again",
        )
    })
}

/// Says how often the limit holds for others, where that is less than asked, and
/// what was taken to be common to days, lots and rigs.
pub(super) fn of_the_limit(limit_holds: f64, confidence: f64, plan: &Plan) -> Vec<Note> {
    let lots = marks(plan, |run| &run.factors.lot).len();
    let rigs = marks(plan, |run| &run.factors.rig).len();
    let mut shares = vec![format!("{DAY_SHARE} to a day")];
    if lots > 1 {
        shares.push(format!("{LOT_SHARE} to a lot"));
    }
    if rigs > 1 {
        shares.push(format!("{RIG_SHARE} to a rig"));
    }
    let mut notes = vec![Note::remark(
        "working-shares",
        format!(
            "of the standard deviation of the background between units, these parts are taken to be \
             common, as working values: {}",
            shares.join(", ")
        ),
        "measure them: the spread between days, lots and rigs of negative controls \
         (isobar assess precision)",
    )];
    if limit_holds < confidence - BELOW_CONFIDENCE {
        notes.push(Note::caution(
            "limit-may-not-hold",
            format!(
                "in {} % of the rehearsals the limit holds for units of other days, lots and rigs, \
                 and {} % is asked for",
                rounded(100.0 * limit_holds),
                rounded(100.0 * confidence)
            ),
            "plan more days or lots rather than more units of the same, or set the limit for a lot \
             to come",
        ));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn power_is_told_from_half_and_twice() {
        assert_eq!(power((0.3, 0.5, 0.7), 0.8, 0.98), Power::Under);
        assert_eq!(power((0.5, 0.5, 0.51), 0.8, 0.98), Power::NotTheCause);
        assert_eq!(power((0.99, 1.0, 1.0), 0.8, 0.98), Power::Over);
        assert_eq!(power((0.9, 0.95, 0.99), 0.8, 0.98), Power::Fits);
    }
}

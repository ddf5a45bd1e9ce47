//! The opening: the question, the answer, the ladder.

use study::forecast::Answer;
use study::ladder::{LadderMark, MarkKind};
use study::{Case, Ladder};

use super::wording::sentence;
use crate::document::{Block, Section, Verdict, VerdictKind, Words};
use crate::ladder_figure::{ladder_figure, needed};

/// Height of the ladder on the first page, points.
const LADDER_HEIGHT: f64 = 335.0;

pub(super) fn section(case: &Case) -> Section {
    let ladder = case.ladder();
    let (kind, word) = outcome(case, &ladder);
    let mut details = Vec::new();
    if let Some(forecast) = &case.forecast {
        let verdict = &forecast.verdict;
        details.push(
            Words::default()
                .strong(format!("Forecast: {}. ", verdict.answer.word()))
                .plain(sentence(&verdict.because)),
        );
    }
    if case.results.is_some() {
        let claim = case.claim();
        match claim.sentence {
            Some(text) => {
                details.push(Words::default().leading_to("Claim", "claim").plain(": ").plain(text))
            }
            None => details.push(
                Words::from("Nothing can be claimed yet; see ")
                    .leading_to("the claim", "claim")
                    .plain("."),
            ),
        }
    }
    details.extend(missed(&ladder).map(|mark| {
        Words::default().strong(sentence(&mark.label)).plain(" ").plain(sentence(&mark.evidence))
    }));
    Section::new("answer", "")
        .with(Block::Verdict(Verdict {
            kind,
            word,
            question: case.input.question.clone(),
            answer: ladder.headline.clone().into(),
            details,
        }))
        .with(Block::Figure(ladder_figure(&ladder, "ladder", LADDER_HEIGHT)))
}

/// The answer as the study has decided it: by the claim where units were
/// tested, by the forecast before. Sizes above the need that are missed stand
/// in the word itself, so that nobody reads `reached` alone.
pub(super) fn outcome(case: &Case, ladder: &Ladder) -> (VerdictKind, String) {
    let claim = case.claim();
    if case.results.is_some() {
        let below_asked = claim.refusals.iter().any(|note| note.code == "required-probability");
        let short = claim.refusals.iter().any(|note| note.code == "need-not-reached");
        return match claim.size_um {
            Some(_) if short => (VerdictKind::NotReached, "not reached".to_string()),
            Some(_) if below_asked => {
                (VerdictKind::Open, "reached with less detection than asked".to_string())
            }
            Some(_) if missed(ladder).next().is_some() => {
                (VerdictKind::Open, "reached, with a gap above".to_string())
            }
            Some(_) if needed(ladder).is_some() => (VerdictKind::Reached, "reached".to_string()),
            _ => (VerdictKind::Open, "open".to_string()),
        };
    }
    match case.forecast.as_ref().map(|forecast| forecast.verdict.answer) {
        Some(Answer::Yes) => (VerdictKind::Expected, "expected: yes".to_string()),
        Some(Answer::YesIf) => (VerdictKind::Open, "expected: yes, if".to_string()),
        Some(Answer::No) => (VerdictKind::NotReached, "expected: no".to_string()),
        Some(Answer::NotAsked) | None => (VerdictKind::Open, "open".to_string()),
    }
}

/// Stretches of the ladder above what is needed that the test misses.
fn missed(ladder: &Ladder) -> impl Iterator<Item = &LadderMark> {
    let least = needed(ladder).map_or(f64::INFINITY, |mark| mark.low);
    ladder
        .marks
        .iter()
        .filter(move |mark| mark.kind == MarkKind::HeadspaceLimit && mark.high > least)
}

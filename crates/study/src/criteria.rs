//! Acceptance criteria: what a study must show, fixed before its first run.

use crate::case_input::CaseInput;
use crate::forecast::{Forecast, mall_at_reference};
use crate::notes::Note;
use crate::profile::Purpose;
use crate::unit_class::RunClass;
use crate::wording::{percent, rounded};

/// What a criterion is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Subject {
    /// A reject limit can be set from the negative controls, and none of them
    /// lies above it.
    FalseRejects,
    /// The reject limit leaves the leak that matters above it.
    LimitLeavesRoom {
        /// Highest limit that does, Pa.
        at_most_pa: f64,
    },
    /// Every positive control of at least this size is found.
    LargeLeaksFound {
        /// Smallest size that counts, µm flow-equivalent.
        from_um: f64,
    },
    /// The leak that is found with [`BOUND_PROBABILITY`] at the required
    /// confidence is no larger than the one that matters.
    DetectionBound {
        /// The leak that matters, µm flow-equivalent.
        at_most_um: f64,
    },
    /// The flow calibration detects the flow that stands for the leak that
    /// matters, and its line is straight.
    FlowCalibration {
        /// That flow, Pa·m³/s at 20 °C.
        at_most_pa_m3_per_s: f64,
    },
    /// Every aged control with a leak that was found at its first age is found
    /// at every later one.
    AgedStillFound,
}

/// Probability of a lack of fit below which a line counts as bent: a straight one
/// then fails by chance once in a hundred studies.
pub const BENT_BELOW: f64 = 0.01;

/// A criterion with its wording.
#[derive(Debug, Clone, PartialEq)]
pub struct Criterion {
    /// Short stable name.
    pub code: String,
    /// What it is about.
    pub subject: Subject,
    /// The sentence for protocol and report.
    pub sentence: String,
}

/// Share of detections behind the detection bound: the usual 90 % (common practice
/// for probability of detection). The confidence is that of the purpose.
///
/// The bound is not moved to the share that a profile asks for, because its
/// coverage was tried by simulation for this one. Where the two differ, every
/// statement that rests on the bound says so ([`other_share_asked`]).
pub const BOUND_PROBABILITY: f64 = 0.90;

/// What the profile asks beside [`BOUND_PROBABILITY`], as a clause; `None` where
/// the two agree.
#[must_use]
pub fn other_share_asked(purpose: &Purpose) -> Option<String> {
    let asked = purpose.required_detection.fraction();
    let percent = percent(purpose.required_detection);
    if asked > BOUND_PROBABILITY + 1e-9 {
        Some(format!("the profile asks for {percent} %, which this does not show"))
    } else if asked < BOUND_PROBABILITY - 1e-9 {
        Some(format!("the profile asks for {percent} % only"))
    } else {
        None
    }
}

/// What a reader of a plan or of a rehearsal is told where the detection bound is
/// for less than the profile asks.
pub(crate) fn bound_shows_less(purpose: &Purpose) -> Option<Note> {
    (purpose.required_detection.fraction() > BOUND_PROBABILITY + 1e-9).then(|| {
        let bound = rounded(100.0 * BOUND_PROBABILITY);
        let asked = percent(purpose.required_detection);
        Note::caution(
            "bound-of-another-probability",
            format!(
                "the criterion “detection-bound” and every size said to be proven are for detection \
                 with {bound} % probability, and the profile asks for {asked} %: meeting it does not \
                 show what is asked"
            ),
            format!(
                "plan so many units of the leak that matters that all found show {asked} % by \
                 themselves, or state {bound} % in the profile where that is what is meant"
            ),
        )
    })
}

/// The criteria of a plan with runs of these classes, some of them with their
/// leak under the liquid where `has_liquid_side`. What needs a leak that
/// matters is left out where none is stated.
#[must_use]
pub fn criteria(
    input: &CaseInput,
    forecast: &Forecast,
    classes: &[RunClass],
    has_liquid_side: bool,
) -> Vec<Criterion> {
    let purpose = &input.profile.purpose;
    let n = classes.iter().filter(|class| **class == RunClass::NegativeControl).count();
    let mut out = vec![Criterion {
        code: "false-rejects".to_owned(),
        subject: Subject::FalseRejects,
        sentence: format!(
            "A reject limit that at most {} % of good units exceed is set from {n} negative \
             controls with {} % confidence, and none of them lies above it.",
            percent(purpose.tolerable_false_reject),
            percent(purpose.confidence)
        ),
    }];
    let mall = input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    let aged = classes.iter().any(|class| matches!(class, RunClass::AgedControl { .. }));
    let of_aged = aged.then(|| Criterion {
        code: "aged-still-found".to_owned(),
        subject: Subject::AgedStillFound,
        sentence: "Every aged control with a leak that is rejected at its first age is rejected \
                   at every later age."
            .to_owned(),
    });
    let Some(mall) = mall else {
        out.extend(of_aged);
        return out;
    };
    let um = mall.flow_equivalent_diameter.um();
    if let Some(at_most_pa) = highest_limit_pa(input, forecast, um) {
        out.push(Criterion {
            code: "limit-leaves-room".to_owned(),
            subject: Subject::LimitLeavesRoom { at_most_pa },
            sentence: format!(
                "The reject limit is no higher than {} Pa, so that the forecast rise of the leak \
                 that matters exceeds it with {} % probability.",
                rounded(at_most_pa),
                percent(purpose.required_detection)
            ),
        });
    }
    out.push(Criterion {
        code: "large-leaks-found".to_owned(),
        subject: Subject::LargeLeaksFound { from_um: um },
        sentence: format!(
            "Every positive control of {} µm flow-equivalent or more{} is rejected.",
            rounded(um),
            if has_liquid_side { " with its leak on the gas side" } else { "" }
        ),
    });
    out.push(Criterion {
        code: "detection-bound".to_owned(),
        subject: Subject::DetectionBound { at_most_um: um },
        sentence: format!(
            "The size found with {} % probability is, with {} % confidence, no larger than {} µm \
             flow-equivalent{}.",
            rounded(100.0 * BOUND_PROBABILITY),
            percent(purpose.confidence),
            rounded(um),
            other_share_asked(purpose).map_or_else(String::new, |asked| format!("; {asked}"))
        ),
    });
    let flows = classes.iter().any(|class| class.flow_pa_m3_per_s().is_some());
    if let Some(flow) = forecast.challenge_at(um).filter(|_| flows) {
        out.push(Criterion {
            code: "flow-calibration".to_owned(),
            subject: Subject::FlowCalibration { at_most_pa_m3_per_s: flow },
            sentence: format!(
                "The flow challenges make a straight line (lack of fit p at least {}) whose \
                 detection limit is no larger than {} Pa·m³/s at 20 °C, the constant flow that \
                 stands for the leak that matters in this cycle.",
                rounded(BENT_BELOW),
                rounded(flow)
            ),
        });
    }
    out.extend(of_aged);
    out
}

/// Highest reject limit at which the leak that matters is still found with the
/// required probability by its rise; `None` where reach limits find it.
fn highest_limit_pa(input: &CaseInput, forecast: &Forecast, um: f64) -> Option<f64> {
    let points = &forecast.detection;
    let above = points.iter().position(|point| point.flow_equivalent_um >= um)?.max(1);
    let (low, high) = (&points[above - 1], &points[above]);
    let required = input.profile.purpose.required_detection.fraction();
    if low.by_reach.min(high.by_reach) >= required {
        return None;
    }
    let span = digits::scalar::ln(high.flow_equivalent_um / low.flow_equivalent_um);
    let weight = digits::scalar::ln(um / low.flow_equivalent_um) / span;
    let rise_pa = low.rise_pa? + weight * (high.rise_pa? - low.rise_pa?);
    let z = digits::normal::quantile(required.min(1.0 - 1e-9));
    Some(rise_pa - z * forecast.tight_rise_sd_pa)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forecast::{ForecastSettings, forecast};
    use physics::quantities::Probability;

    fn bound_sentence(input: &CaseInput) -> String {
        let settings = ForecastSettings { n_draws: 16, ..ForecastSettings::default() };
        let found = forecast(input, &settings, &|_, _| {}).expect("forecast");
        let all = criteria(input, &found, &[RunClass::NegativeControl], false);
        let bound = all.into_iter().find(|one| one.code == "detection-bound");
        bound.expect("a limit is stated").sentence
    }

    /// The bound is for 90 %, whatever is asked: the sentence says so wherever the
    /// two differ, and only there.
    #[test]
    fn a_bound_for_another_probability_than_asked_says_so() {
        let mut input = crate::worked_cases::lyophilised_vial();
        let mut asking = |fraction: f64| {
            input.profile.purpose.required_detection = Probability::new(fraction).unwrap();
            (bound_sentence(&input), bound_shows_less(&input.profile.purpose).is_some())
        };
        let (same, note) = asking(0.9);
        assert!(same.contains("90 %") && !same.contains("asks for") && !note, "{same}");
        let (more, note) = asking(0.9999);
        assert!(more.contains("asks for 99.99 %, which this does not show") && note, "{more}");
        let (less, note) = asking(0.8);
        assert!(less.contains("asks for 80 % only") && !note, "{less}");
    }
}

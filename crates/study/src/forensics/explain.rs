//! From a trace to its causes.

use physics::PressureTrace;

use super::choice::{self, Choice};
use super::circumstances::Circumstances;
use super::emptied;
use super::findings::{Findings, FoundTerm, Residuals, Unexplained, Verdict};
use super::fit;
use super::leak;
use super::leak_rate::{leak_rate, value_at};
use super::leak_size;
use super::mixture;
use super::saturation::saturated_from;
use super::sentence;
use super::term::{Cause, GAS, SLOW, STEP, TREND};
use super::window::{RiseSpan, Window};
use crate::notes::Note;

/// Code of the note that a size holds only for a unit that has not emptied.
pub(super) const MAY_HAVE_EMPTIED: &str = "size-unless-emptied";

/// Fewest points that are fitted.
const FEWEST_POINTS: usize = 16;

/// Fits the settle and measure stages as a sum of causes and says which are
/// needed.
///
/// Valid for an isolated chamber in which the pressure stays far below that of
/// the headspace; the leak is taken as choked.
///
/// # Errors
/// [`Unexplained`] where there are too few samples or some are no numbers.
///
/// # Example
/// ```
/// use study::forensics::{Circumstances, RiseSpan, Verdict, explain};
/// use study::trace::PressureTrace;
/// // 2 Pa/s of leak, noise of 0.3 Pa.
/// let mut chance = digits::RandomStream::new(7, 1);
/// let times_s: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.1).collect();
/// let pressures_pa = times_s.iter().map(|t| 100.0 + 2.0 * t + 0.3 * chance.normal()).collect();
/// let trace = PressureTrace { times_s, pressures_pa, ..Default::default() };
/// let span = RiseSpan { pumped_from_s: None, isolated_s: 0.0, measured_from_s: 5.0, measured_to_s: 19.9 };
/// // A gauge that drifts by no more than 0.01 Pa/s.
/// let about = Circumstances {
///     gauge_drift: Some(physics::quantities::PressureRate::from_pa_per_s(0.01)),
///     ..Circumstances::default()
/// };
/// let found = explain(&trace, &span, &about)?;
/// assert_eq!(found.verdict, Verdict::Leak);
/// let rate = found.leak_rate.expect("a rate");
/// assert!(rate.lower_pa_per_s < 2.0 && rate.upper_pa_per_s > 2.0 && !rate.one_sided);
/// // Of a gauge of which nothing is known, all of the rise may be drift.
/// let found = explain(&trace, &span, &Circumstances::default())?;
/// assert_eq!(found.verdict, Verdict::LeakOrOther);
/// assert!(found.leak_rate.expect("a rate").one_sided);
/// # Ok::<(), study::forensics::Unexplained>(())
/// ```
pub fn explain(
    trace: &PressureTrace,
    span: &RiseSpan,
    about: &Circumstances,
) -> Result<Findings, Unexplained> {
    let range = trace.samples_between(span.isolated_s, span.measured_to_s);
    check(trace, range.clone())?;
    let full_scale_pa = about.full_scale.map(physics::quantities::AbsolutePressure::pa);
    let saturated = saturated_from(trace, range.clone(), full_scale_pa);
    let window = Window::of(trace, span, saturated.unwrap_or(usize::MAX));
    if let Some(place) = saturated {
        return Ok(at_full_scale(trace, span, place, range));
    }
    if window.n() < FEWEST_POINTS {
        return Err(Unexplained::TooFewSamples { n: range.len(), needed: FEWEST_POINTS });
    }
    let first = window.pressures_pa[0];
    if window.pressures_pa.iter().all(|&value| value == first) {
        let mut findings = empty(Verdict::CannotSay, 0.0);
        sentence::write(&mut findings);
        return Ok(findings);
    }
    let choice = choice::choose(&window, about).ok_or(Unexplained::NoFit { n: window.n() })?;
    Ok(describe(&choice, &window, about))
}

fn check(trace: &PressureTrace, range: core::ops::Range<usize>) -> Result<(), Unexplained> {
    if range.len() < FEWEST_POINTS || trace.pressures_pa.len() < range.end {
        return Err(Unexplained::TooFewSamples { n: range.len(), needed: FEWEST_POINTS });
    }
    let mut before = f64::NEG_INFINITY;
    for place in range {
        let time = trace.times_s[place];
        if !time.is_finite() || !trace.pressures_pa[place].is_finite() || time < before {
            return Err(Unexplained::BadSample { place: place + 1 });
        }
        before = time;
    }
    Ok(())
}

fn empty(verdict: Verdict, rise_pa: f64) -> Findings {
    Findings {
        verdict,
        rise_pa,
        terms: Vec::new(),
        leak_rate: None,
        leak_size: None,
        excludes: None,
        residuals: None,
        sentence: String::new(),
        next_step: String::new(),
        notes: Vec::new(),
    }
}

fn at_full_scale(
    trace: &PressureTrace,
    span: &RiseSpan,
    place: usize,
    range: core::ops::Range<usize>,
) -> Findings {
    let first = trace.samples_between(span.measured_from_s, span.measured_to_s).start;
    let rise_pa = trace.pressures_pa[place] - trace.pressures_pa[first.min(place)];
    let mut findings = empty(Verdict::AtFullScale, rise_pa);
    findings.notes.push(Note::refusal(
        "at-full-scale",
        format!(
            "the gauge stood at {} Pa from {} s on, for {} of {} samples: the rise is at least \
             what was read",
            crate::wording::rounded(trace.pressures_pa[place]),
            crate::wording::rounded(trace.times_s[place]),
            range.end - place,
            range.len()
        ),
        "do not take a slope from this run; use a gauge with a larger range for gross leaks",
    ));
    sentence::write(&mut findings);
    findings
}

fn describe(choice: &Choice, window: &Window, about: &Circumstances) -> Findings {
    let taken = &choice.taken;
    let (from, to) = window.measure_s;
    let falls = taken.at(TREND).is_some_and(|(_, coefficient)| coefficient < 0.0);
    let mut terms: Vec<FoundTerm> = taken
        .shapes
        .iter()
        .zip(&taken.coefficients)
        .map(|(shape, &coefficient)| {
            let at = |time| coefficient * value_at(&window.times_s, &shape.column, time);
            // A step counts where it stands, not smeared over its neighbours.
            let rise_pa = match shape.constant {
                Some(moment) if shape.place == STEP => {
                    if moment > from && moment <= to {
                        coefficient
                    } else {
                        0.0
                    }
                }
                _ => at(to) - at(from),
            };
            let mut causes = choice::possible_causes(shape, coefficient, window, about);
            // A rise that slows down, taken apart into a gas and a drift
            // against it, may as well be one headspace that empties.
            if matches!(shape.place, GAS | SLOW) && falls && !causes.contains(&Cause::EmptyingLeak)
            {
                causes.push(Cause::EmptyingLeak);
            }
            for rival in choice::rivals(choice, shape.place, window, about) {
                let rival =
                    if rival == Cause::Leak && coefficient < 0.0 { Cause::Drift } else { rival };
                if !causes.contains(&rival) {
                    causes.push(rival);
                }
            }
            let is_time = matches!(shape.place, SLOW | STEP) || shape.cause == Cause::Thermal;
            let emptying_s = shape
                .constant
                .filter(|_| shape.cause == Cause::EmptyingLeak)
                .and_then(|bore| leak::emptying_time_s(about, bore));
            FoundTerm {
                cause: causes[0],
                could_also_be: causes[1..].to_vec(),
                rise_pa,
                share: None,
                time_s: shape.constant.filter(|_| is_time).or(emptying_s),
                exponent: shape.constant.filter(|_| shape.place == GAS),
                evidence: choice::evidence(choice, shape.place),
                curve_pa: {
                    let first = shape.column.first().copied().unwrap_or(0.0);
                    shape.column.iter().map(|value| coefficient * (value - first)).collect()
                },
            }
        })
        .collect();
    let rise_pa: f64 = terms.iter().map(|term| term.rise_pa).sum();
    let moved: f64 = terms.iter().map(|term| term.rise_pa.abs()).sum();
    for term in &mut terms {
        term.share = (rise_pa.abs() > 0.05 * moved && moved > 0.0).then(|| term.rise_pa / rise_pa);
    }
    terms.sort_by(|a, b| b.rise_pa.abs().total_cmp(&a.rise_pa.abs()));
    let residuals = describe_residuals(choice, window);
    let small_pa = 2.0 * residuals.sd_pa;
    let emptied = emptied::explains(choice, window, about, residuals.sd_pa);
    if emptied {
        for term in terms.iter_mut().filter(|term| falls_off(term)) {
            if !term.could_also_be.contains(&Cause::EmptyingLeak) {
                term.could_also_be.push(Cause::EmptyingLeak);
            }
        }
    }
    let mixture = mixture::of(choice, window, about);
    let rate = leak_rate(&mixture, about).filter(|_| !emptied);
    let verdict = verdict(&terms, small_pa, rate.is_some_and(|rate| rate.lower_pa_per_s > 0.0));
    let is_leak = matches!(verdict, Verdict::Leak | Verdict::LeakOrOther);
    let mut findings = empty(verdict, rise_pa);
    findings.leak_size = rate
        .as_ref()
        .filter(|_| is_leak)
        .and_then(|rate| leak_size::size_of(rate, &mixture.parts, window, about));
    if findings.leak_size.is_some_and(|size| size.lower_um == 0.0) {
        let rising_pa = small_pa + rises_of(&terms, |_| true);
        let two = rate.and_then(|rate| leak_size::excluded(&rate, rising_pa, window, about));
        if let Some(largest_um) = two.and_then(|two| two.largest_um) {
            findings.notes.push(Note::caution(
                MAY_HAVE_EMPTIED,
                format!(
                    "the size holds for a headspace that is still there: a leak above some {} µm \
                     would have emptied it before measuring and leave as little",
                    crate::wording::rounded(largest_um)
                ),
                "compare the evacuation curve with that of tight units, or weigh the unit",
            ));
        }
    }
    findings.excludes = rate.as_ref().filter(|_| verdict == Verdict::NoLeakSeen).and_then(|rate| {
        // Any term that falls off with time could be the rest of a
        // headspace that emptied.
        let unclear_pa =
            small_pa + rises_of(&terms, |cause| !matches!(cause, Cause::Leak | Cause::Drift));
        leak_size::excluded(rate, unclear_pa, window, about)
    });
    if emptied {
        findings.notes.push(Note::caution(
            "emptied-may-explain",
            "a headspace that emptied before measuring may have left this fall of the flow: no \
             leak rate can be said from it",
            "compare the evacuation curve with that of tight units, weigh the unit, or state \
             headspace, free volume and temperature",
        ));
    }
    findings.leak_rate = rate;
    findings.terms = terms;
    add_notes(&mut findings, &residuals, about, window);
    findings.residuals = Some(residuals);
    sentence::write(&mut findings);
    findings
}

/// Outgassing, vapour and what else comes to an end.
fn falls_off(term: &FoundTerm) -> bool {
    matches!(term.cause, Cause::Outgassing | Cause::Vapour | Cause::Creep)
        || (term.cause == Cause::Thermal && term.could_also_be.contains(&Cause::Vapour))
}

/// A term that adds less than `small_pa` is lost in the noise of a sample and
/// decides nothing; the upper end of the leak rate covers it.
fn verdict(terms: &[FoundTerm], small_pa: f64, rate_is_above_zero: bool) -> Verdict {
    let rising = |term: &&FoundTerm| term.rise_pa > small_pa;
    let named = terms.iter().filter(rising).any(|term| term.cause.is_leak());
    let possible = terms
        .iter()
        .filter(rising)
        .any(|term| term.could_also_be.iter().any(|cause| cause.is_leak()));
    let other_than_drift = terms.iter().filter(rising).any(|term| {
        term.cause.is_leak() && term.could_also_be.iter().any(|cause| *cause != Cause::Drift)
    });
    match (named, possible) {
        (true, _) if rate_is_above_zero && !other_than_drift => Verdict::Leak,
        (true, _) | (false, true) => Verdict::LeakOrOther,
        (false, false) => Verdict::NoLeakSeen,
    }
}

/// Sum of the rises of the terms of some causes, Pa.
fn rises_of(terms: &[FoundTerm], wanted: impl Fn(Cause) -> bool) -> f64 {
    terms.iter().filter(|term| wanted(term.cause)).map(|term| term.rise_pa.max(0.0)).sum()
}

fn describe_residuals(choice: &Choice, window: &Window) -> Residuals {
    let values_pa = fit::residuals(&choice.taken, window);
    let left = fit::whitened(&values_pa, choice.noise.rho);
    let n = left.len() as f64;
    let sd_pa = digits::sums::standard_deviation(&values_pa).unwrap_or(0.0);
    let after = statistics::autocorrelation::lag_one(&left[1..]).unwrap_or(0.0);
    Residuals {
        times_s: window.times_s.clone(),
        fitted_pa: window.pressures_pa.iter().zip(&values_pa).map(|(p, left)| p - left).collect(),
        values_pa,
        sd_pa,
        autocorrelation: choice.noise.rho,
        // 2.6 standard errors of a lag-1 autocorrelation, 1/sqrt(n).
        look_random: after.abs() < 2.6 / n.sqrt(),
    }
}

fn add_notes(
    findings: &mut Findings,
    residuals: &Residuals,
    about: &Circumstances,
    window: &Window,
) {
    if !residuals.look_random {
        findings.notes.push(Note::caution(
            "residuals-not-random",
            "what the fitted causes leave is not chance: something else was at work",
            "look at the residual plot, and do not rely on the shares",
        ));
    }
    if findings.terms.iter().any(|term| !term.could_also_be.is_empty()) {
        let pairs: Vec<String> = findings
            .terms
            .iter()
            .filter(|term| !term.could_also_be.is_empty())
            .map(|term| {
                let others: Vec<&str> = term.could_also_be.iter().map(|c| c.word()).collect();
                format!("{} and {}", term.cause.word(), others.join(", "))
            })
            .collect();
        findings.notes.push(Note::caution(
            "not-told-apart",
            format!("this record cannot tell apart: {}", pairs.join("; ")),
            "use a blank, a second run of the same unit or a longer record",
        ));
    }
    let limit = about.gauge_drift.map(|rate| rate.pa_per_s().abs());
    if let (Some(limit), Some(rate)) = (limit, &findings.leak_rate)
        && rate.rise_upper_pa_per_s < -limit
    {
        findings.notes.push(Note::caution(
            "falls-beyond-drift",
            format!(
                "the record falls by at least {} Pa/s, and the gauge was stated to drift by no more \
                 than {} Pa/s: either that is not so, or the gas cools or is taken up",
                crate::wording::rounded(-rate.rise_upper_pa_per_s),
                crate::wording::rounded(limit)
            ),
            "check the gauge against another and the temperature of the chamber; do not take this \
             record as a pass",
        ));
    }
    if window.age_s.is_none() {
        findings.notes.push(Note::remark(
            "start-of-pumping-unknown",
            "when pumping began is not known, so that several ages of the walls were tried",
            "give the record from the start of pumping",
        ));
    }
    if findings.verdict == Verdict::NoLeakSeen && about.headspace.is_none() {
        findings.notes.push(Note::caution(
            "emptied-or-tight",
            "a unit that emptied before measuring gives the same record as a tight one",
            "state the headspace, and compare the evacuation curve with that of tight units",
        ));
    }
}

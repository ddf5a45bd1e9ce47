//! Forensics against planted causes: a smaller run of what
//! `examples/forensics_confusion.rs` does, and positive controls.

mod planted;

use physics::quantities::PressureRate;
use planted::{Kind, planted};
use study::forensics::{Cause, Circumstances, LeakRate, RiseSpan, Unexplained, Verdict, explain};
use study::trace::PressureTrace;

const SEED: u64 = 11;

/// Share of `n` planted traces for which something holds.
fn share(
    kind: Kind,
    n: u64,
    holds: impl Fn(&planted::Planted, &study::forensics::Findings) -> bool,
) -> f64 {
    let count = (0..n)
        .filter(|&unit| {
            let planted = planted(kind, SEED, unit);
            let found = explain(&planted.trace, &planted.span, &planted.about).expect("findings");
            holds(&planted, &found)
        })
        .count();
    count as f64 / n as f64
}

/// Said intervals of the leak rate, and how many hold the truth.
fn held(
    kind: Kind,
    n: u64,
    holds: impl Fn(&LeakRate, f64) -> bool,
    change: impl Fn(&mut Circumstances),
) -> (u32, u32) {
    let (mut said, mut held) = (0, 0);
    for unit in 0..n {
        let mut planted = planted(kind, SEED, unit);
        change(&mut planted.about);
        let found = explain(&planted.trace, &planted.span, &planted.about).expect("findings");
        // A headspace that has emptied may draw gas back: that is no leak.
        let truth = planted.leak_pa_per_s.max(0.0);
        if let Some(rate) = found.leak_rate {
            said += 1;
            held += u32::from(holds(&rate, truth));
        }
    }
    (said, held)
}

fn within(rate: &LeakRate, truth: f64) -> bool {
    (rate.lower_pa_per_s..=rate.upper_pa_per_s).contains(&truth)
}

#[test]
fn the_intervals_of_a_leak_cover_as_they_say() {
    // 95 % nominal; three standard errors of 100 draws are 6.5 %.
    for kind in [Kind::Leak, Kind::EmptyingLeak, Kind::LeakAndOutgassing] {
        let (said, held) = held(kind, 100, within, |_| ());
        assert!(
            said >= 75 && f64::from(held) > 0.885 * f64::from(said),
            "{kind:?}: {held} of {said}"
        );
    }
    // A positive control of the count: half the interval does not cover.
    let half = |rate: &LeakRate, truth: f64| {
        (rate.estimate_pa_per_s..=rate.upper_pa_per_s).contains(&truth)
    };
    let (said, held) = held(Kind::Leak, 100, half, |_| ());
    assert!(f64::from(held) < 0.8 * f64::from(said), "{held} of {said}");
}

#[test]
fn a_drift_of_the_gauge_is_not_sold_as_a_leak() {
    let (said, right) = held(Kind::DriftUp, 60, within, |_| ());
    assert!(f64::from(right) > 0.9 * f64::from(said), "{right} of {said}");
    // A positive control: stated to be free of drift, the same gauges are
    // believed, and their drift is counted as leak.
    let believed = |about: &mut Circumstances| {
        about.gauge_drift = Some(PressureRate::from_pa_per_s(0.0));
    };
    let (said, right) = held(Kind::DriftUp, 60, within, believed);
    assert!(f64::from(right) < 0.5 * f64::from(said), "{right} of {said}");
}

#[test]
fn a_steady_leak_gets_its_rate_without_headspace() {
    let mut chance = digits::RandomStream::new(5, 5);
    let times_s: Vec<f64> = (0..800).map(|row| f64::from(row) * 0.05).collect();
    let level = |t: f64| {
        if t < 10.0 { 1.0e5 * digits::scalar::exp(-t) + 100.0 } else { 104.0 + 2.0 * (t - 10.0) }
    };
    let pressures_pa = times_s.iter().map(|&t| level(t) + 0.3 * chance.normal()).collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    let span = RiseSpan {
        pumped_from_s: Some(0.0),
        isolated_s: 10.0,
        measured_from_s: 12.0,
        measured_to_s: 39.9,
    };
    let open = explain(&trace, &span, &Circumstances::default()).unwrap();
    let rate = open.leak_rate.expect("a rate");
    assert!(rate.one_sided && rate.lower_pa_per_s == 0.0 && rate.upper_pa_per_s > 2.0);
    assert!((rate.rise_lower_pa_per_s - 2.0).abs() < 0.3, "{rate:?}");
    assert_eq!(open.verdict, Verdict::LeakOrOther);
    assert!(open.sentence.contains("drift of the gauge"), "{}", open.sentence);
    let about = Circumstances {
        gauge_drift: Some(PressureRate::from_pa_per_s(0.01)),
        ..Circumstances::default()
    };
    let known = explain(&trace, &span, &about).unwrap();
    let rate = known.leak_rate.expect("a rate");
    assert!(!rate.one_sided && rate.lower_pa_per_s > 1.5 && rate.upper_pa_per_s < 2.5, "{rate:?}");
    assert_eq!(known.verdict, Verdict::Leak);
}

#[test]
fn what_may_be_the_rest_of_an_emptied_headspace_gets_no_rate() {
    let (said, right) = held(Kind::Emptied, 60, within, |_| ());
    assert!(said < 45, "{said}: some must be refused");
    assert!(f64::from(right) > 0.95 * f64::from(said), "{right} of {said}");
    // An upper end of zero would be a promise that no record keeps.
    let (said, above_zero) = held(Kind::Emptied, 60, |rate, _| rate.upper_pa_per_s > 0.0, |_| ());
    assert_eq!(said, above_zero);
    // A tight unit is not refused for that.
    let (said, _) = held(Kind::Tight, 30, within, |_| ());
    assert!(said >= 29, "{said}");
}

#[test]
fn planted_causes_are_named_or_said_to_be_possible() {
    for (kind, cause, least) in [
        (Kind::Step, Cause::Step, 0.9),
        (Kind::DriftDown, Cause::Drift, 0.9),
        (Kind::Outgassing, Cause::Outgassing, 0.8),
        (Kind::Vapour, Cause::Vapour, 0.75),
        (Kind::Leak, Cause::Leak, 0.8),
        (Kind::Creep, Cause::Creep, 0.8),
        (Kind::Thermal, Cause::Thermal, 0.8),
    ] {
        let found = share(kind, 30, |_, found| {
            found.terms.iter().take(2).any(|term| {
                term.cause == cause
                    || term.could_also_be.contains(&cause)
                    || (cause == Cause::Leak && term.cause.is_leak())
            })
        });
        assert!(found >= least, "{kind:?}: {found}");
    }
}

#[test]
fn a_saturated_gauge_never_reads_as_tight() {
    let tight = share(Kind::FullScale, 60, |_, found| found.verdict == Verdict::NoLeakSeen);
    assert_eq!(tight, 0.0);
}

#[test]
fn a_tight_unit_passes_on_both_sides_and_an_emptied_one_is_not_excluded() {
    let passes = share(Kind::Tight, 40, |_, found| {
        found.verdict == Verdict::NoLeakSeen && found.excludes.is_some()
    });
    assert!(passes > 0.9, "{passes}");
    let wrong = share(Kind::Emptied, 60, |planted, found| {
        found.excludes.is_some_and(|two| {
            planted.leak_um > two.smallest_um
                && two.largest_um.is_none_or(|largest| planted.leak_um < largest)
        })
    });
    assert!(wrong <= 0.04, "{wrong}");
    let planted = planted(Kind::Tight, SEED, 3);
    let found = explain(&planted.trace, &planted.span, &planted.about).unwrap();
    assert!(found.sentence.contains("on this side"), "{}", found.sentence);
    assert!(found.next_step.contains("evacuation curve"), "{}", found.next_step);
}

#[test]
fn a_fall_beyond_the_stated_drift_is_said() {
    let noted = |limit: f64| {
        let mut planted = planted(Kind::DriftDown, SEED, 4);
        planted.about.gauge_drift = Some(PressureRate::from_pa_per_s(limit));
        let found = explain(&planted.trace, &planted.span, &planted.about).unwrap();
        found.notes.iter().any(|note| note.code == "falls-beyond-drift")
    };
    assert!(noted(0.001));
    assert!(!noted(10.0));
}

#[test]
fn a_size_that_rests_on_a_full_headspace_says_so() {
    // Emptied units whose rest is told as a small leak or something else.
    let (mut sized, mut warned) = (0, 0);
    for unit in 0..400 {
        let planted = planted(Kind::Emptied, SEED, unit);
        let found = explain(&planted.trace, &planted.span, &planted.about).unwrap();
        if found.leak_size.is_some_and(|size| size.lower_um == 0.0) {
            sized += 1;
            warned += u32::from(
                found.notes.iter().any(|note| note.code == "size-unless-emptied")
                    && found.sentence.contains("unless the unit emptied"),
            );
        }
    }
    assert!(sized > 0 && warned == sized, "{warned} of {sized}");
}

#[test]
fn without_headspace_a_pass_says_that_an_emptied_unit_looks_the_same() {
    let planted = planted(Kind::Tight, SEED, 2);
    let found = explain(&planted.trace, &planted.span, &Circumstances::default()).unwrap();
    assert_eq!(found.verdict, Verdict::NoLeakSeen);
    assert!(found.notes.iter().any(|note| note.code == "emptied-or-tight"));
    assert_eq!(found.excludes, None);
}

#[test]
fn what_cannot_be_examined_is_refused() {
    let span = RiseSpan {
        pumped_from_s: None,
        isolated_s: 0.0,
        measured_from_s: 1.0,
        measured_to_s: 100.0,
    };
    let mut trace = PressureTrace {
        times_s: (0..10).map(f64::from).collect(),
        pressures_pa: vec![1.0; 10],
        ..PressureTrace::default()
    };
    let few = explain(&trace, &span, &Circumstances::default());
    assert!(matches!(few, Err(Unexplained::TooFewSamples { n: 10, .. })));
    trace.times_s = (0..50).map(f64::from).collect();
    trace.pressures_pa = vec![5.0; 50];
    let still = explain(&trace, &span, &Circumstances::default()).unwrap();
    assert_eq!(still.verdict, Verdict::CannotSay);
    trace.pressures_pa[7] = f64::NAN;
    let bad = explain(&trace, &span, &Circumstances::default());
    assert_eq!(bad, Err(Unexplained::BadSample { place: 8 }));
}

#[test]
fn shares_add_up_to_the_rise() {
    let planted = planted(Kind::LeakAndOutgassing, SEED, 5);
    let found = explain(&planted.trace, &planted.span, &planted.about).unwrap();
    let total: f64 = found.terms.iter().map(|term| term.rise_pa).sum();
    assert!((total - found.rise_pa).abs() < 1e-9 * found.rise_pa.abs());
    let shares: f64 = found.terms.iter().filter_map(|term| term.share).sum();
    assert!((shares - 1.0).abs() < 1e-9);
}

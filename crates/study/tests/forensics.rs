//! Forensics against planted causes: a smaller run of what
//! `examples/forensics_confusion.rs` does, and positive controls.

mod planted;

use planted::{Kind, planted};
use study::forensics::{Cause, Circumstances, RiseSpan, Unexplained, Verdict, explain};
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

#[test]
fn the_interval_of_a_leak_covers_as_it_says() {
    let covers = |planted: &planted::Planted, found: &study::forensics::Findings| {
        let rate = found.leak_rate.unwrap();
        (rate.lower_pa_per_s..=rate.upper_pa_per_s).contains(&planted.leak_pa_per_s)
    };
    // 95 % nominal; three standard errors of 100 draws are 6.5 %.
    let leak = share(Kind::Leak, 100, covers);
    assert!(leak > 0.885, "{leak}");
    // A positive control of the count: half the interval does not cover.
    let half = share(Kind::Leak, 100, |planted, found| {
        let rate = found.leak_rate.unwrap();
        let (low, high) = (rate.estimate_pa_per_s, rate.upper_pa_per_s);
        (low..=high).contains(&planted.leak_pa_per_s)
    });
    assert!(half < 0.8, "{half}");
}

#[test]
fn planted_causes_are_named_or_said_to_be_possible() {
    for (kind, cause, least) in [
        (Kind::Step, Cause::Step, 0.9),
        (Kind::DriftDown, Cause::Drift, 0.9),
        (Kind::Outgassing, Cause::Outgassing, 0.8),
        (Kind::Vapour, Cause::Vapour, 0.75),
        (Kind::Leak, Cause::Leak, 0.8),
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

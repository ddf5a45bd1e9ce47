//! Stages of simulated logs against the times at which things truly happened:
//! how many are found, how far each edge is off, and how often a wrong edge is
//! called likely, which is what does harm.
#![allow(clippy::print_stdout)] // The tables are the result.

mod logs;

use std::collections::BTreeMap;

use logs::{Log, Row, Truth, log};
use physics::quantities::{AbsolutePressure, Duration};
use study::cycle::Tier;
use study::stages::{FoundStages, NoStages, StageSource, Sureness, find_stages, split_cycles};
use study::trace::{PressureTrace, Stage};

fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(((values.len() as f64 - 1.0) * share) as usize).copied().unwrap_or(f64::NAN)
}

/// An edge may be off by three samples, 0.2 s, or 3 % of the closed time.
fn tolerance(log: &Log, truth: &Truth) -> f64 {
    (3.0 * log.interval_s).max(0.2).max(0.03 * (truth.closed_to_s - truth.isolated_s))
}

fn likely(found: &FoundStages) -> bool {
    found.sureness != Sureness::Unsure
}

fn start_and_end(found: &FoundStages, stage: Stage) -> (f64, f64) {
    let span = found.spans.iter().find(|span| span.stage == stage).expect("a stage");
    (span.start_s, span.end_s)
}

/// Errors of the start of pumping, of the isolation and of the end of the closed
/// chamber, s.
fn errors(found: &FoundStages, truth: &Truth) -> [f64; 3] {
    let (onset_s, isolated_s) = start_and_end(found, Stage::Evacuate);
    let (_, end_s) = start_and_end(found, Stage::Measure);
    [onset_s - truth.onset_s, isolated_s - truth.isolated_s, end_s - truth.closed_to_s]
}

/// Every eighth log has no rise.
const TIGHT: u64 = 8;

#[derive(Default)]
struct Count {
    logs: u32,
    found: u32,
    likely: u32,
    wrong: [u32; 3],
    harmful: u32,
}

#[test]
fn edges_of_simulated_logs_are_right_or_said_to_be_unsure() {
    let mut groups: BTreeMap<String, Count> = BTreeMap::new();
    let mut off: [Vec<f64>; 3] = Default::default();
    for unit in 0..2000 {
        let tight = unit % TIGHT == TIGHT - 1;
        let log = log(1201, unit, Row::One, tight);
        // A gauge that ends before the vent tells no vent.
        if log.clipped {
            continue;
        }
        let truth = log.cycles[0];
        let kind = if tight { "tight" } else { "rises" };
        let count = groups.entry(format!("{kind} {:7} {}", log.target, log.vent)).or_default();
        count.logs += 1;
        let Ok(found) = find_stages(&log.trace, None) else { continue };
        count.found += 1;
        count.likely += u32::from(likely(&found));
        let errors = errors(&found, &truth);
        let allowed = tolerance(&log, &truth);
        for (place, error) in errors.iter().enumerate() {
            // A small gauge does not see the start of pumping.
            if place > 0 || !log.small {
                count.wrong[place] += u32::from(error.abs() > allowed);
                if likely(&found) {
                    off[place].push(error.abs());
                }
            }
        }
        let window_wrong = errors[1..].iter().any(|error| error.abs() > allowed);
        count.harmful += u32::from(likely(&found) && window_wrong);
    }
    println!("{:36} logs found likely | wrong onset, isolation, end | wrong yet likely", "");
    let mut all = [Count::default(), Count::default()];
    for (name, count) in &groups {
        let [onset, isolation, end] = count.wrong;
        println!(
            "{name:36} {:4} {:5} {:6} | {onset:11} {isolation:10} {end:4} | {:8}",
            count.logs, count.found, count.likely, count.harmful
        );
        let sum = &mut all[usize::from(name.starts_with("tight"))];
        sum.logs += count.logs;
        sum.found += count.found;
        sum.likely += count.likely;
        sum.harmful += count.harmful;
        sum.wrong[0] += count.wrong[0];
    }
    for (name, values) in ["onset", "isolation", "end"].iter().zip(&mut off) {
        let at = [0.5, 0.9, 0.99].map(|share| quantile(values, share));
        println!(
            "{name:9} off by {:.4} s (half), {:.3} s (9 of 10), {:.3} s (99 of 100)",
            at[0], at[1], at[2]
        );
    }
    let [rises, tight] = all;
    let share = |some: u32, of: &Count| f64::from(some) / f64::from(of.logs);
    assert!(rises.logs > 1600 && share(rises.found, &rises) > 0.995, "found {}", rises.found);
    assert!(share(rises.likely, &rises) > 0.85, "likely {}", rises.likely);
    assert!(share(rises.harmful, &rises) < 0.006, "harmful {}", rises.harmful);
    assert!(share(rises.wrong[0], &rises) < 0.003, "onset {}", rises.wrong[0]);
    // Where nothing rises nothing is likely.
    assert!(tight.logs > 200 && share(tight.found, &tight) > 0.98, "found {}", tight.found);
    assert_eq!(tight.likely, 0);
}

fn part(trace: &PressureTrace, range: core::ops::Range<usize>) -> PressureTrace {
    PressureTrace {
        times_s: trace.times_s[range.clone()].to_vec(),
        pressures_pa: trace.pressures_pa[range].to_vec(),
        ..PressureTrace::default()
    }
}

#[test]
fn rows_of_cycles_are_parted_and_what_was_given_up_is_never_likely() {
    for row in [Row::Several, Row::WithoutPause] {
        let (mut logs, mut parted, mut whole, mut found_in, mut likely_in, mut harmful) =
            (0, 0, 0, 0, 0, 0);
        let (mut given_up, mut given_up_likely) = (0, 0);
        for unit in 0..500 {
            let log = log(1202, unit, row, false);
            // What is not seen cannot be told: a small gauge stands at its end while
            // pumping is given up, and a short dip lies between two samples.
            let unseen = |cycle: &Truth| {
                cycle.aborted && (log.small || cycle.isolated_pa > 0.93 * log.room_pa)
            };
            if log.cycles.iter().any(unseen) {
                continue;
            }
            logs += 1;
            let ranges = split_cycles(&log.trace.pressures_pa);
            let right = ranges.len() == log.cycles.len();
            parted += u32::from(right);
            for (place, range) in ranges.into_iter().enumerate() {
                let found = find_stages(&part(&log.trace, range), None);
                if right && log.cycles[place].aborted {
                    given_up += 1;
                    given_up_likely += u32::from(found.is_ok_and(|found| likely(&found)));
                    continue;
                }
                whole += u32::from(right);
                let Ok(found) = found else { continue };
                found_in += u32::from(right);
                if likely(&found) {
                    likely_in += u32::from(right);
                    // Of any cycle, also where they were not parted.
                    let fits = log.cycles.iter().any(|truth| {
                        let allowed = tolerance(&log, truth);
                        !truth.aborted
                            && errors(&found, truth)[1..].iter().all(|off| off.abs() <= allowed)
                    });
                    harmful += u32::from(!fits && !log.clipped);
                }
            }
        }
        println!(
            "{row:?}: {logs} logs, {parted} parted rightly; {whole} whole cycles, {found_in} found, \
             {likely_in} likely, {harmful} wrong yet likely; {given_up} given up, {given_up_likely} \
             of them likely"
        );
        let share = |some: u32, of: u32| f64::from(some) / f64::from(of);
        assert!(logs > 400 && share(parted, logs) > 0.96, "{parted} of {logs}");
        assert!(share(found_in, whole) > 0.99 && share(likely_in, whole) > 0.8);
        assert!(share(harmful, whole) < 0.006, "{harmful} of {whole}");
        assert_eq!(given_up_likely, 0, "of {given_up}");
    }
}

fn tier(settle_s: f64, measure_s: f64) -> Tier {
    Tier {
        evacuate_to: AbsolutePressure::from_pa(100.0),
        evacuate_limit: Duration::from_s(60.0),
        reach_limit: None,
        settle: Duration::from_s(settle_s),
        measure: Duration::from_s(measure_s),
        rise_limit: None,
    }
}

#[test]
fn times_of_the_method_are_counted_from_the_bend_or_back_from_the_vent() {
    let (mut tight, mut tight_likely, mut rises, mut off, mut off_likely) = (0, 0, 0, 0, 0);
    for unit in 0..600 {
        let nothing_rises = unit % 2 == 0;
        let log = log(1203, unit, Row::One, nothing_rises);
        let truth = log.cycles[0];
        if log.clipped || (nothing_rises && !truth.vented) {
            continue;
        }
        let closed_s = truth.closed_to_s - truth.isolated_s;
        let method = tier(0.25 * closed_s, 0.75 * closed_s - 2.0 * log.interval_s);
        let allowed = tolerance(&log, &truth);
        match find_stages(&log.trace, Some(&method)) {
            Ok(found) => {
                assert_eq!(found.source, StageSource::Method);
                let (start_s, end_s) = start_and_end(&found, Stage::Measure);
                let wrong = (start_s - truth.isolated_s - 0.25 * closed_s).abs() > allowed
                    || (end_s - truth.closed_to_s).abs() > allowed;
                off += u32::from(wrong);
                off_likely += u32::from(wrong && likely(&found));
                if nothing_rises {
                    tight += 1;
                    // Coming down, the times of the method and the vent may tell one story.
                    tight_likely += u32::from(likely(&found));
                    assert!(found.how.contains("counted back from the vent"), "{}", found.how);
                } else {
                    rises += 1;
                }
            }
            // A bend that is seen late leaves too little time; it is never made up.
            Err(NoStages::TooShortForMethod { there_s, needed_s }) => assert!(there_s < needed_s),
            Err(_) => {}
        }
    }
    println!(
        "{tight} tight ({tight_likely} likely), {rises} rising: {off} wrong, {off_likely} of them likely"
    );
    assert!(tight > 180 && rises > 240, "{tight} {rises}");
    assert!(off <= 8 && off_likely <= 2, "{off} {off_likely}");
}

#[test]
fn a_record_shorter_than_the_method_is_refused() {
    let (mut refused, mut asked) = (0, 0);
    for unit in 0..200 {
        let log = log(1204, unit, Row::One, unit % 2 == 0);
        let truth = log.cycles[0];
        let closed_s = truth.closed_to_s - truth.isolated_s;
        let cut_s = truth.isolated_s + 0.6 * closed_s;
        let n = log.trace.times_s.partition_point(|time| *time < cut_s);
        let cut = part(&log.trace, 0..n);
        // Twice the time of the method would be there in no case.
        let found =
            find_stages(&cut, Some(&tier(0.5 * closed_s, 3.0 * closed_s + truth.isolated_s)));
        asked += 1;
        assert!(found.is_err(), "unit {unit}: {found:?}");
        refused += u32::from(matches!(found, Err(NoStages::TooShortForMethod { .. })));
    }
    assert!(refused >= 190, "{refused} of {asked}");
}

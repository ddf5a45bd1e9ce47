//! Stages of logs about which nothing is known, against the times that were
//! planted: rooms, vacuums, noises, rises and vents of many kinds, all invented.

use digits::RandomStream;
use study::stages::{FoundStages, NoStages, Sureness, find_stages};
use study::trace::{PressureTrace, Stage};

/// A planted log with the times at which things happened.
struct Planted {
    trace: PressureTrace,
    isolated_s: f64,
    /// End of the closed chamber: the vent, or the end of the record.
    closed_to_s: f64,
    interval_s: f64,
    noise_pa: f64,
    rise_pa_per_s: f64,
    /// The gauge ends below what the closed chamber comes to.
    at_its_end: bool,
}

fn between(stream: &mut RandomStream, low: f64, high: f64) -> f64 {
    digits::scalar::exp(digits::scalar::ln(low) + stream.uniform() * digits::scalar::ln(high / low))
}

/// The pump takes an exponential towards its target and holds it for a while;
/// the closed chamber rises steadily and gives off gas as 1/t; the vent is
/// sudden, a straight ramp, or an exponential of some seconds.
fn planted(unit: u64) -> Planted {
    let mut stream = RandomStream::new(41, unit);
    let s = &mut stream;
    let room = [101_325.0, 98_000.0, 78_000.0][s.below(3) as usize];
    let target = match s.below(4) {
        0 | 1 => between(s, 50.0, 2000.0),
        2 => between(s, 5.0e3, 3.0e4),
        // A weak vacuum, for weak containers.
        _ => room * (0.4 + 0.45 * s.uniform()),
    };
    let interval_s = [0.02, 0.1, 0.2][s.below(3) as usize];
    let noise_pa = between(s, 0.2, 5.0) * if target > 5.0e3 { 5.0 } else { 1.0 };
    let wait_s = 3.0 * s.uniform();
    let tau_s = between(s, 0.3, 1.5);
    let hold_s = if s.below(2) == 0 { 0.0 } else { 4.0 * s.uniform() };
    let evacuated_s =
        tau_s * digits::scalar::ln((room - target) / (0.02 * target).min(0.2 * (room - target)));
    let isolated_s = wait_s + evacuated_s + hold_s;
    let closed_s = 10.0 + 20.0 * s.uniform();
    // Rises of some 20 to 1000 noises over the record.
    let rise_pa_per_s = noise_pa * between(s, 20.0, 1000.0) / closed_s;
    let gas_pa = 0.3 * rise_pa_per_s * closed_s * s.uniform();
    let vent = s.below(4);
    let vent_s = if vent == 0 { 0.0 } else { 3.0 };
    let opening_s = between(s, 0.3, 2.0);
    let clip = if s.below(5) == 0 { (4.0 * target).min(room) } else { f64::INFINITY };
    let closed_to_s = isolated_s + closed_s;
    let n = ((closed_to_s + vent_s) / interval_s) as usize;
    let times_s: Vec<f64> = (0..n).map(|i| i as f64 * interval_s).collect();
    let before = |t: f64| target + (room - target) * digits::scalar::exp(-(t - wait_s) / tau_s);
    let at_isolation = if hold_s > 0.0 { before(wait_s + evacuated_s) } else { before(isolated_s) };
    let closed = |t: f64| {
        let since = t - isolated_s;
        at_isolation + rise_pa_per_s * since + gas_pa * digits::scalar::ln(1.0 + since / 2.0) / 3.0
    };
    let pressures_pa = times_s
        .iter()
        .map(|&t| {
            let clean = if t < wait_s {
                room
            } else if t < isolated_s {
                before(t).max(at_isolation)
            } else if t < closed_to_s {
                closed(t)
            } else {
                let (since, from) = (t - closed_to_s, closed(closed_to_s));
                let part = match vent {
                    1 => 1.0,
                    2 => (since / (2.0 * opening_s)).min(1.0),
                    _ => 1.0 - digits::scalar::exp(-since / opening_s),
                };
                from + (room - from) * part
            };
            (clean + noise_pa * s.normal()).min(clip)
        })
        .collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    let at_its_end = closed(closed_to_s) + 5.0 * noise_pa > clip;
    Planted { trace, isolated_s, closed_to_s, interval_s, noise_pa, rise_pa_per_s, at_its_end }
}

fn measured(found: &FoundStages) -> (f64, f64) {
    let measure = found.spans.iter().find(|span| span.stage == Stage::Measure).expect("a stage");
    (measure.start_s, measure.end_s)
}

#[test]
fn planted_stages_are_found_where_they_were_planted() {
    let n = 2000;
    let (mut counted, mut found_at_all) = (0_u32, 0);
    let (mut start_right, mut end_right, mut early) = (0, 0, 0);
    for unit in 0..n {
        let planted = planted(unit);
        // A gauge that ends before the vent tells no vent.
        if planted.at_its_end {
            continue;
        }
        counted += 1;
        let Ok(found) = find_stages(&planted.trace, None) else { continue };
        found_at_all += 1;
        let (start_s, end_s) = measured(&found);
        // What a rise needs to leave the noise, and two samples.
        let seen_s = 6.0 * planted.noise_pa / planted.rise_pa_per_s + 3.0 * planted.interval_s;
        let late_s = start_s - planted.isolated_s;
        start_right += u64::from(late_s.abs() <= seen_s.max(0.5));
        early += u64::from(late_s < -seen_s.max(1.0));
        let over_s = end_s - planted.closed_to_s;
        end_right += u64::from(over_s.abs() <= (3.0 * planted.interval_s).max(0.3));
    }
    let share = |count: u64| count as f64 / f64::from(counted);
    println!(
        "{counted} logs: found {:.4}, start right {:.4}, end right {:.4}, early {:.4}",
        share(found_at_all),
        share(start_right),
        share(end_right),
        share(early)
    );
    assert!(counted > 1500 && share(found_at_all) > 0.995);
    assert!(share(start_right) > 0.99 && share(end_right) > 0.99 && share(early) < 0.002);
}

#[test]
fn a_record_in_which_nothing_rises_is_not_sure() {
    let mut stream = RandomStream::new(6, 1);
    let times_s: Vec<f64> = (0..600).map(|i| 0.05 * f64::from(i)).collect();
    let pressures_pa: Vec<f64> = times_s
        .iter()
        .map(|t| 100.0 + 1.0e5 * digits::scalar::exp(-2.0 * t) + 0.5 * stream.normal())
        .collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    let found = find_stages(&trace, None).expect("a fall");
    assert_eq!(found.sureness, Sureness::Unsure);
    assert!(found.doubts[0].contains("nothing rises beyond chance"), "{found:?}");
    // The times of the method are then counted back from the end.
    let tier = study::cycle::Tier {
        evacuate_to: physics::quantities::AbsolutePressure::from_pa(110.0),
        evacuate_limit: physics::quantities::Duration::from_s(10.0),
        reach_limit: None,
        settle: physics::quantities::Duration::from_s(5.0),
        measure: physics::quantities::Duration::from_s(10.0),
        rise_limit: None,
    };
    let found = find_stages(&trace, Some(&tier)).expect("a fall");
    let (start_s, end_s) = measured(&found);
    assert!((end_s - 29.95).abs() < 1e-9 && (start_s - 19.95).abs() < 1e-9, "{start_s} {end_s}");
    assert!(found.how.contains("counted back from the end"), "{}", found.how);
}

#[test]
fn a_leak_that_fills_the_chamber_is_no_vent() {
    let times_s: Vec<f64> = (0..400).map(|i| 0.1 * f64::from(i)).collect();
    let pressures_pa: Vec<f64> = times_s
        .iter()
        .map(|&t| {
            if t < 10.0 {
                200.0 + 1.0e5 * digits::scalar::exp(-t)
            } else {
                200.0 + 6.0e4 * (1.0 - digits::scalar::exp(-(t - 10.0) / 8.0))
            }
        })
        .collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    let found = find_stages(&trace, None).expect("stages");
    let (start_s, end_s) = measured(&found);
    assert!((start_s - 10.0).abs() < 0.5 && (end_s - 39.9).abs() < 1e-9, "{start_s} {end_s}");
}

#[test]
fn weather_and_noise_are_no_cycle() {
    let mut stream = RandomStream::new(9, 1);
    let times_s: Vec<f64> = (0..2000).map(|i| 60.0 * f64::from(i)).collect();
    let pressures_pa = times_s
        .iter()
        .map(|t| 98_000.0 + 1500.0 * digits::scalar::cos(t / 20_000.0) + 20.0 * stream.normal())
        .collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    assert_eq!(find_stages(&trace, None), Err(NoStages::NoEvacuation));
}

/// A record of one sample every tenth of a second, with noise.
fn record(n: u32, noise_pa: f64, clean: impl Fn(f64) -> f64) -> PressureTrace {
    let mut stream = RandomStream::new(17, 3);
    let times_s: Vec<f64> = (0..n).map(|i| 0.1 * f64::from(i)).collect();
    let pressures_pa = times_s.iter().map(|&t| clean(t) + noise_pa * stream.normal()).collect();
    PressureTrace { times_s, pressures_pa, ..PressureTrace::default() }
}

/// Waits to 3 s, pumps to 120 Pa within 10 s, holds to 15 s, rises by 2 Pa/s.
fn held(t: f64) -> f64 {
    let pumped = 120.0 + 1.0e5 * digits::scalar::exp(-1.5 * (t - 3.0));
    if t < 3.0 {
        100_120.0
    } else if t < 15.0 {
        pumped
    } else {
        120.0 + 2.0 * (t - 15.0)
    }
}

#[test]
fn a_wait_and_a_level_that_is_held_are_told_from_pumping_and_rise() {
    let found = find_stages(&record(400, 0.5, held), None).expect("stages");
    assert_eq!((found.sureness, found.doubts.len()), (Sureness::Likely, 0), "{found:?}");
    assert!(found.pumping_begins);
    assert!((found.spans[0].start_s - 3.0).abs() < 0.2, "{found:?}");
    let (start_s, end_s) = measured(&found);
    assert!((start_s - 15.0).abs() < 0.6 && (end_s - 39.9).abs() < 1e-9, "{start_s} {end_s}");
}

#[test]
fn a_vent_through_a_narrow_valve_begins_where_it_begins() {
    // 15 kPa/s from 160 Pa on: the first tenth of a second is 1500 Pa.
    let clean = |t: f64| if t < 35.0 { held(t) } else { (160.0 + 15_000.0 * (t - 35.0)).min(1e5) };
    let found = find_stages(&record(450, 0.5, clean), None).expect("stages");
    let (_, end_s) = measured(&found);
    assert!((end_s - 34.95).abs() < 0.11, "{end_s}");
    assert_eq!(found.spans.last().expect("spans").stage, Stage::Vent);
}

#[test]
fn a_gauge_that_ends_low_does_not_tell_when_pumping_began() {
    let found = find_stages(&record(400, 0.5, |t| held(t).min(1000.0)), None).expect("stages");
    assert!(!found.pumping_begins && found.how.contains("below any room"), "{found:?}");
    let (start_s, _) = measured(&found);
    assert!((start_s - 15.0).abs() < 0.6, "{start_s}");
}

#[test]
fn a_single_high_sample_and_a_fall_within_the_closed_chamber_are_doubts() {
    let mut odd = record(400, 0.5, held);
    odd.pressures_pa[300] = 1.0e5;
    let found = find_stages(&odd, None).expect("stages");
    assert!(found.doubts.iter().any(|doubt| doubt.contains("single sample")), "{found:?}");
    // A plunger that gives way makes room.
    let falls = |t: f64| held(t) - if t > 25.0 { 12.0 } else { 0.0 };
    let found = find_stages(&record(400, 0.5, falls), None).expect("stages");
    assert_eq!(found.sureness, Sureness::Unsure);
    assert!(found.doubts.iter().any(|doubt| doubt.contains("falls within")), "{found:?}");
}

#[test]
fn a_gross_leak_is_measured_and_said_to_look_like_a_vent() {
    let clean = |t: f64| if t < 15.0 { held(t) } else { 120.0 + 3000.0 * (t - 15.0) };
    let found = find_stages(&record(400, 5.0, clean), None).expect("stages");
    let (start_s, end_s) = measured(&found);
    assert!((start_s - 15.0).abs() < 0.3 && (end_s - 39.9).abs() < 1e-9, "{start_s} {end_s}");
    assert!(found.doubts.iter().any(|doubt| doubt.contains("gross leak")), "{found:?}");
}

#[test]
fn what_is_no_cycle_is_refused_by_kind() {
    let kind = |trace: PressureTrace| find_stages(&trace, None).expect_err("no cycle");
    assert_eq!(kind(record(600, 20.0, |_| 98_000.0)), NoStages::NoEvacuation);
    assert_eq!(kind(record(600, 0.0, |_| 98_000.0)), NoStages::NoEvacuation);
    // Temperatures that were taken for pressures.
    assert_eq!(
        kind(record(600, 0.05, |t| 22.0 + digits::scalar::sin(t / 10.0))),
        NoStages::NoEvacuation
    );
    // A pump that runs on, and one that is given up.
    let pumps = |t: f64| 20.0 + 1.0e5 * digits::scalar::exp(-0.15 * t);
    assert_eq!(kind(record(400, 0.5, pumps)), NoStages::NoIsolation);
    let given_up =
        |t: f64| if t < 20.0 { 1e5 - 3000.0 * t } else { 4e4 + 6e4 * (t - 20.0) }.min(1e5);
    let found = find_stages(&record(400, 0.5, given_up), None);
    assert!(!found.is_ok_and(|found| found.sureness != Sureness::Unsure));
}

#[test]
fn a_record_without_the_window_of_the_method_is_refused() {
    let tier = |settle_s, measure_s| study::cycle::Tier {
        evacuate_to: physics::quantities::AbsolutePressure::from_pa(150.0),
        evacuate_limit: physics::quantities::Duration::from_s(20.0),
        reach_limit: None,
        settle: physics::quantities::Duration::from_s(settle_s),
        measure: physics::quantities::Duration::from_s(measure_s),
        rise_limit: None,
    };
    // The chamber is closed for 25 s of the record.
    let trace = record(400, 0.5, held);
    let refused = find_stages(&trace, Some(&tier(10.0, 20.0))).expect_err("too short");
    let NoStages::TooShortForMethod { there_s, needed_s } = refused else { panic!("{refused}") };
    assert!((there_s - 25.0).abs() < 0.7 && needed_s == 30.0, "{there_s} {needed_s}");
    let found = find_stages(&trace, Some(&tier(5.0, 10.0))).expect("stages");
    let (start_s, end_s) = measured(&found);
    assert!((start_s - 20.0).abs() < 0.6 && (end_s - start_s - 10.0).abs() < 1e-9);
}

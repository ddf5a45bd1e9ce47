//! Reject limit from negative controls: product-filled units without a leak.
//! Blanks and dummies diagnose the rig and never enter here.

use statistics::summaries::GroupSummary;
use statistics::tolerance_limits::random_lots::{self, Pivot};
use statistics::tolerance_limits::upper_limit_from_values;

use super::{DayFigures, LotFigures, RejectLimit, units};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::runs::{Run, RunClass};

pub(super) fn from_negative_controls(
    input: &CaseInput,
    runs: &[Run],
    notes: &mut Vec<Note>,
) -> Option<RejectLimit> {
    let purpose = &input.profile.purpose;
    let all: Vec<&Run> = runs.iter().filter(|run| run.class == RunClass::NegativeControl).collect();
    let censored = all.iter().filter(|run| run.ended.by_limit()).count();
    if censored > 0 {
        notes.push(Note::caution(
            "negative-control-ended-by-limit",
            format!("{censored} negative controls were ended by a limit and have no rise"),
            "find out whether these units leak before the limit is used",
        ));
    }
    let read = |run: &Run| run.measured().is_some();
    let controls = units::first_of_each(all.into_iter(), read, "negative controls", notes);
    let rises: Vec<f64> =
        controls.iter().filter_map(|run| run.measured()).map(|f| f.rise_pa).collect();
    let content = 1.0 - purpose.tolerable_false_reject.fraction();
    let confidence = purpose.confidence.fraction();
    let limit = match upper_limit_from_values(&rises, content, confidence) {
        Ok(limit) => limit,
        Err(error) => {
            notes.push(Note::refusal(
                "no-limit",
                format!("no reject limit can be said: {error}"),
                "test more negative controls, over several days and lots",
            ));
            return None;
        }
    };
    notes.extend(limit.notes.into_iter().map(Note::from));
    let by_day = by_day(&controls);
    let what = (content, confidence);
    warn_about_days(&controls, what, notes);
    let by_lot = by_lot(&controls);
    warn_about_lots(&by_lot, &controls, what, notes);
    for (code, words, mark) in [
        ("rigs-differ", "rigs", rig as fn(&Run) -> String),
        ("operators-differ", "operators", operator as fn(&Run) -> String),
    ] {
        warn_about_others(code, words, &rises_by(&controls, mark), notes);
    }
    Some(RejectLimit {
        limit_pa: limit.limit,
        method: limit.method,
        n: limit.n,
        mean_pa: limit.mean,
        standard_deviation_pa: limit.standard_deviation,
        factor: limit.factor,
        content,
        confidence,
        by_day,
        by_lot,
    })
}

fn lot(run: &Run) -> String {
    run.factors.lot.clone()
}

fn rig(run: &Run) -> String {
    run.factors.rig.clone()
}

fn operator(run: &Run) -> String {
    run.factors.operator.clone()
}

/// Rises by group, in the order of the names; controls without a name left out.
fn rises_by(controls: &[&Run], name: impl Fn(&Run) -> String) -> Vec<(String, Vec<f64>)> {
    let mut groups: std::collections::BTreeMap<String, Vec<f64>> =
        std::collections::BTreeMap::new();
    for run in controls {
        if let Some(features) = run.measured() {
            let name = name(run);
            if !name.is_empty() {
                groups.entry(name).or_default().push(features.rise_pa);
            }
        }
    }
    groups.into_iter().collect()
}

fn by_lot(controls: &[&Run]) -> Vec<LotFigures> {
    rises_by(controls, lot)
        .into_iter()
        .filter_map(|(lot, rises)| {
            Some(LotFigures {
                lot,
                mean_pa: digits::sums::mean(&rises)?,
                standard_deviation_pa: digits::sums::standard_deviation(&rises),
                n: rises.len(),
            })
        })
        .collect()
}

/// Probability of differences so large where groups do not differ; `None`
/// where fewer than two groups hold two units.
fn difference(groups: &[(String, Vec<f64>)]) -> Option<f64> {
    let summaries: Vec<GroupSummary> = groups
        .iter()
        .filter_map(|(name, rises)| {
            Some(GroupSummary {
                label: name.clone(),
                mean: digits::sums::mean(rises)?,
                standard_deviation: digits::sums::standard_deviation(rises)?,
                n: rises.len(),
            })
        })
        .collect();
    if summaries.len() < 2 {
        return None;
    }
    statistics::summaries::groups_differ(&summaries).ok().map(|test| test.p_value)
}

/// Probability below which groups are said to differ.
const DIFFERENT: f64 = 0.05;

fn by_day(controls: &[&Run]) -> Vec<DayFigures> {
    let mut days: std::collections::BTreeMap<u32, Vec<f64>> = std::collections::BTreeMap::new();
    for run in controls {
        if let Some(features) = run.measured() {
            days.entry(run.day).or_default().push(features.rise_pa);
        }
    }
    days.into_iter()
        .filter_map(|(day, rises)| {
            Some(DayFigures {
                day,
                mean_pa: digits::sums::mean(&rises)?,
                standard_deviation_pa: digits::sums::standard_deviation(&rises),
                n: rises.len(),
            })
        })
        .collect()
}

/// A limit from pooled days holds for a future day only where days agree.
fn warn_about_days(controls: &[&Run], what: (f64, f64), notes: &mut Vec<Note>) {
    let days = rises_by(controls, |run| format!("day {:05}", run.day));
    if days.iter().filter(|day| day.1.len() > 1).count() < 2 {
        notes.push(Note::caution(
            "one-day",
            "the negative controls come from one day, so the spread between days is unknown",
            "repeat on at least two more days and lots before the limit is fixed",
        ));
        return;
    }
    if let Some(p) = difference(&days).filter(|p| *p < DIFFERENT) {
        notes.push(Note::caution(
            "days-differ",
            format!(
                "days differ (p = {}): a limit from pooled days promises more than it holds{}",
                crate::wording::rounded(p),
                to_come("day", days, what)
            ),
            "add days or lots; more units on the same days do not help",
        ));
    }
}

/// The same of lots, where the runs say of which lot a unit is.
fn warn_about_lots(
    lots: &[LotFigures],
    controls: &[&Run],
    what: (f64, f64),
    notes: &mut Vec<Note>,
) {
    if lots.is_empty() {
        return;
    }
    let known: usize = lots.iter().map(|lot| lot.n).sum();
    let read = controls.iter().filter(|run| run.measured().is_some()).count();
    if known < read {
        notes.push(Note::caution(
            "lots-partly-known",
            format!("the lot of {} of {read} negative controls is not known", read - known),
            "enter the lot of every unit; a limit for a lot to come leaves the others out",
        ));
    }
    if lots.len() < 2 {
        notes.push(Note::caution(
            "one-lot",
            format!(
                "the negative controls come from one lot ({}), so the spread between lots is \
                 unknown",
                lots[0].lot
            ),
            "test units of at least two more lots before the limit is fixed",
        ));
        return;
    }
    let groups = rises_by(controls, lot);
    if let Some(p) = difference(&groups).filter(|p| *p < DIFFERENT) {
        notes.push(Note::caution(
            "lots-differ",
            format!(
                "lots differ (p = {}): a limit from pooled lots promises more than it holds{}",
                crate::wording::rounded(p),
                to_come("lot", groups, what)
            ),
            "add lots; more units of the same lots do not help",
        ));
    }
}

/// Rigs or operators that differ are no sample of others: no limit is drawn from
/// them for one to come.
fn warn_about_others(
    code: &str,
    words: &str,
    groups: &[(String, Vec<f64>)],
    notes: &mut Vec<Note>,
) {
    if let Some(p) = difference(groups).filter(|p| *p < DIFFERENT) {
        let means: Vec<String> = groups
            .iter()
            .filter_map(|(name, rises)| {
                let mean = digits::sums::mean(rises)?;
                Some(format!("{name} {} Pa", crate::wording::rounded(mean)))
            })
            .collect();
        notes.push(Note::caution(
            code,
            format!(
                "{words} differ (p = {}; means: {}): one limit for all of them is too high for some \
                 and too low for others",
                crate::wording::rounded(p),
                means.join(", ")
            ),
            "find out why, or give each a limit of its own",
        ));
    }
}

/// The limit for a unit of a day or lot to come, those tested taken as drawn at
/// random, as the end of a sentence; nothing where some hold a single unit.
fn to_come(
    what: &str,
    groups: Vec<(String, Vec<f64>)>,
    (content, confidence): (f64, f64),
) -> String {
    let rises: Vec<Vec<f64>> = groups.into_iter().map(|group| group.1).collect();
    match random_lots::upper_limit(&rises, content, confidence, Pivot::Graded) {
        Ok(found) => format!(
            "; for a unit of a {what} to come, the {} {what}s taken as drawn at random, the limit \
             is {} Pa",
            found.lots,
            crate::wording::rounded(found.limit)
        ),
        Err(_) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    /// 60 invented units over three days and three lots, balanced; lots, rigs and
    /// operators lie apart by the shifts given, Pa.
    fn controls(between: [f64; 3]) -> Vec<Run> {
        let [of_lot, of_rig, of_operator] = between;
        let mut stream = RandomStream::new(4, 0);
        (0..60_u32)
            .map(|unit| {
                let (day, lot) = (unit % 3, (unit / 3 + unit) % 3);
                let (rig, operator) = ((unit / 9) % 2, (unit / 18) % 2);
                let rise_pa = 20.0
                    + of_lot * f64::from(lot)
                    + of_rig * f64::from(rig)
                    + of_operator * f64::from(operator)
                    + stream.normal();
                Run {
                    number: unit + 1,
                    day: day + 1,
                    factors: crate::run_factors::RunFactors {
                        operator: format!("O{}", operator + 1),
                        rig: format!("R{}", rig + 1),
                        lot: format!("L{}", lot + 1),
                        ..Default::default()
                    },
                    ..Run::invented(&format!("N{unit}"), RunClass::NegativeControl, rise_pa)
                }
            })
            .collect()
    }

    fn found(runs: &[Run]) -> (RejectLimit, Vec<String>, String) {
        let input = crate::worked_cases::lyophilised_vial();
        let mut notes = Vec::new();
        let limit = from_negative_controls(&input, runs, &mut notes).expect("a limit");
        let text = notes.iter().map(|note| note.text.clone()).collect::<Vec<_>>().join("\n");
        (limit, notes.into_iter().map(|note| note.code).collect(), text)
    }

    /// A table may give an aborted run, one ended early or one with a full gauge
    /// a reading: it is no rise of a tight unit, and moves no limit.
    #[test]
    fn runs_without_a_full_rise_enter_no_limit() {
        use crate::runs::Ended;
        let plain = found(&controls([0.0; 3])).0;
        for ended in [
            Ended::Aborted { cause: "power lost".to_owned() },
            Ended::RiseLimit { tier: 1 },
            Ended::GaugeFull { at_least_pa: 400.0 },
        ] {
            let mut runs = controls([0.0; 3]);
            let planted = Run::invented("N99", RunClass::NegativeControl, 400.0);
            runs.push(Run { ended: ended.clone(), ..planted });
            assert_eq!(found(&runs).0, plain, "{ended:?}");
        }
    }

    #[test]
    fn each_planted_difference_is_named_and_no_other() {
        let codes = ["lots-differ", "rigs-differ", "operators-differ"];
        for (planted, code) in codes.iter().enumerate() {
            let mut between = [0.0; 3];
            between[planted] = 3.0;
            let (limit, notes, text) = found(&controls(between));
            for other in codes {
                assert_eq!(notes.iter().any(|note| note == other), other == *code, "{notes:?}");
            }
            assert_eq!(limit.by_lot.len(), 3);
            assert_eq!(limit.by_lot.iter().map(|lot| lot.n).sum::<usize>(), 60);
            // The limit for a lot to come is drawn from lots, not from days.
            assert_eq!(text.contains("a unit of a lot to come"), *code == "lots-differ", "{text}");
        }
        let (_, notes, _) = found(&controls([0.0; 3]));
        assert!(codes.iter().all(|code| notes.iter().all(|note| note != code)), "{notes:?}");
    }

    #[test]
    fn without_lots_days_stand_alone() {
        let mut runs = controls([0.0; 3]);
        for run in &mut runs {
            run.factors = Default::default();
            if let Some(features) = &mut run.features {
                features.rise_pa += 4.0 * f64::from(run.day);
            }
        }
        let (limit, notes, text) = found(&runs);
        assert!(limit.by_lot.is_empty());
        assert!(notes.iter().any(|note| note == "days-differ"), "{notes:?}");
        assert!(text.contains("a unit of a day to come"), "{text}");
    }

    #[test]
    fn one_lot_and_units_without_a_lot_are_said() {
        let mut runs = controls([0.0; 3]);
        for run in &mut runs {
            run.factors.lot = "L1".to_owned();
        }
        runs[0].factors.lot = String::new();
        let (_, notes, _) = found(&runs);
        for code in ["one-lot", "lots-partly-known"] {
            assert!(notes.iter().any(|note| note == code), "{notes:?}");
        }
    }
}

//! Plan: which units, how many, in which order, tested by whom and on what.

mod balance;
mod settings;

pub use settings::{PlanProblem, PlanSettings};

use balance::{Balance, Factor, Kind, Place};
use digits::RandomStream;

use crate::case_input::CaseInput;
use crate::criteria::{Criterion, criteria};
use crate::forecast::{Forecast, mall_at_reference};
use crate::notes::Note;
use crate::profile::Fill;
use crate::run_factors::{LeakSide, RunFactors};
use crate::unit_class::RunClass;

/// The runs of a study in the order in which they are to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Seed of the random order.
    pub seed: u64,
    /// The runs in order.
    pub runs: Vec<PlannedRun>,
    /// Acceptance criteria, fixed with the plan; empty in records of versions
    /// that worked them out anew each time.
    pub criteria: Vec<Criterion>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

impl Plan {
    /// The criteria that were fixed with the plan, or those that an older plan
    /// stood for.
    #[must_use]
    pub fn criteria_of(&self, input: &CaseInput, forecast: &Forecast) -> Vec<Criterion> {
        if self.criteria.is_empty() {
            criteria(input, forecast, &classes(&self.runs), has_liquid_side(&self.runs))
        } else {
            self.criteria.clone()
        }
    }
}

fn has_liquid_side(runs: &[PlannedRun]) -> bool {
    runs.iter().any(|run| run.factors.side == Some(LeakSide::Liquid))
}

fn classes(runs: &[PlannedRun]) -> Vec<RunClass> {
    runs.iter().map(|run| run.class).collect()
}

/// One planned run.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedRun {
    /// Position in the order, counted from 1.
    pub number: u32,
    /// Mark on the unit.
    pub unit: String,
    /// What the unit is.
    pub class: RunClass,
    /// Day of the study, counted from 1.
    pub day: u32,
    /// Operator, rig and lot as marks, side and type of the leak; empty in
    /// records of versions that did not plan them.
    pub factors: RunFactors,
}

/// Lowest and highest size of positive control, as multiples of the smallest
/// detectable leak: they span the transition, where a unit teaches most.
const LOWEST_SIZE: f64 = 0.6;
const HIGHEST_SIZE: f64 = 1.5;

/// Lowest and highest flow challenge, as multiples of the flow that stands for
/// the smallest detectable leak: the calibration must hold there, and a line
/// needs length.
const LOWEST_FLOW: f64 = 0.5;
const HIGHEST_FLOW: f64 = 4.0;

/// How far below the lower end of the upper edge the largest size stays.
const BELOW_EDGE: f64 = 0.8;

/// A run before it has its place in the order.
struct Unordered {
    unit: String,
    class: RunClass,
    factors: RunFactors,
}

/// Gives runs their operators, rigs, lots and types of defect.
struct Spreading<'a> {
    balance: Balance,
    settings: &'a PlanSettings,
}

impl Spreading<'_> {
    /// Every factor with its number of levels.
    fn all(&self) -> [(Factor, usize); 3] {
        let PlanSettings { operators, rigs, lots, .. } = *self.settings;
        [(Factor::Lot, lots), (Factor::Rig, rigs), (Factor::Operator, operators)]
            .map(|(factor, n)| (factor, n.max(1) as usize))
    }

    /// The factors of a run: a blank has no lot, and stays on its rig.
    fn of(&mut self, place: Place, rig: Option<usize>) -> RunFactors {
        let units = !matches!(place.kind, Kind::Blank | Kind::Flow);
        let mut wanted: Vec<(Factor, usize)> = self
            .all()
            .into_iter()
            .filter(|(factor, _)| match factor {
                Factor::Lot => units,
                Factor::Rig => rig.is_none(),
                _ => true,
            })
            .collect();
        let defects = &self.settings.defects;
        if matches!(place.kind, Kind::Positive | Kind::Liquid) && !defects.is_empty() {
            wanted.push((Factor::Defect, defects.len()));
        }
        let held: Vec<(Factor, usize)> = rig.map(|rig| (Factor::Rig, rig)).into_iter().collect();
        let levels = self.balance.give(place, &wanted, &held);
        let mark = |letter: &str, factor: Factor| {
            levels.get(&factor).map_or_else(String::new, |level| format!("{letter}{}", level + 1))
        };
        RunFactors {
            operator: mark("O", Factor::Operator),
            rig: mark("R", Factor::Rig),
            lot: mark("L", Factor::Lot),
            side: match place.kind {
                Kind::Positive => Some(LeakSide::Gas),
                Kind::Liquid => Some(LeakSide::Liquid),
                _ => None,
            },
            defect: levels
                .get(&Factor::Defect)
                .and_then(|level| defects.get(*level).cloned())
                .unwrap_or_default(),
            // Which standard gives a flow is known where it is given.
            standard: String::new(),
        }
    }
}

/// Plans a study: blanks, flow challenges, negative controls and positive
/// controls over the transition of the forecast, and where the container holds
/// liquid, positive controls whose leak it covers. Blanks come first on each
/// day, on every rig, then the flow challenges, then the units, both in random
/// order. Operators, rigs and lots are spread so that none goes with a day or a
/// size.
#[must_use]
pub fn plan_runs(input: &CaseInput, forecast: &Forecast, settings: &PlanSettings) -> Plan {
    let mut notes = Vec::new();
    let mut spreading = Spreading { balance: Balance::default(), settings };
    let days = settings.days.max(1) as usize;
    let rigs = settings.rigs.max(1) as usize;
    let aged = aged_controls(input, forecast, &mut spreading, &mut notes);
    let last = aged.iter().map(|(day, _)| day + 1).max().unwrap_or(0).max(days);
    let mut by_day: Vec<Vec<Unordered>> = (0..last).map(|_| Vec::new()).collect();
    for (day, runs) in by_day.iter_mut().enumerate() {
        // Days between are not worked.
        if day >= days && aged.iter().all(|one| one.0 != day) {
            continue;
        }
        for rig in 0..rigs {
            for blank in 0..settings.blanks_per_day {
                let number = rig as u32 * settings.blanks_per_day + blank + 1;
                runs.push(Unordered {
                    unit: format!("B{}-{number}", day + 1),
                    class: RunClass::Blank,
                    factors: spreading.of(Place { kind: Kind::Blank, cell: 0, day }, Some(rig)),
                });
            }
        }
    }
    let challenges = flow_challenges(forecast, &mut spreading, days, &mut by_day);
    for unit in 0..settings.negative_controls {
        let day = unit as usize % days;
        by_day[day].push(Unordered {
            unit: format!("N{:03}", unit + 1),
            class: RunClass::NegativeControl,
            factors: spreading.of(Place { kind: Kind::Negative, cell: 0, day }, None),
        });
    }
    match forecast.window.smallest {
        Some(smallest) => {
            let sizes = crate::forecast::log_grid(
                smallest.um * LOWEST_SIZE,
                smallest.um * HIGHEST_SIZE,
                settings.sizes as usize,
            );
            let sizes = sizes.into_iter().map(|um| (um, settings.units_per_size)).chain(
                large_sizes(input, forecast, smallest.um * HIGHEST_SIZE)
                    .into_iter()
                    .map(|um| (um, settings.units_per_large_size)),
            );
            positive_controls(&mut spreading, Kind::Positive, "P", sizes, days, &mut by_day);
        }
        None => notes.push(Note::refusal(
            "no-sizes",
            "no positive controls are planned, because no size is forecast to be detectable",
            "change the rig or the cycle until the forecast has a window",
        )),
    }
    if input.profile.product.fill == Fill::Liquid {
        let per_size = settings.units_per_liquid_size;
        let sizes = liquid_sizes(input, forecast).into_iter().map(|um| (um, per_size));
        let n = positive_controls(&mut spreading, Kind::Liquid, "W", sizes, days, &mut by_day);
        notes.push(of_liquid_side(n));
    }
    for (day, run) in aged {
        by_day[day].push(run);
    }
    let mut runs = Vec::new();
    for (day, mut units) in by_day.into_iter().enumerate() {
        if units.is_empty() {
            continue;
        }
        // Blanks stay first, and flows before units: they show that the rig is
        // fit before units are spent.
        let blanks = settings.blanks_per_day as usize * rigs;
        let first_unit = blanks + challenges[day];
        let mut stream = RandomStream::new(settings.seed, day as u64);
        stream.shuffle(&mut units[first_unit..]);
        stream.shuffle(&mut units[blanks..first_unit]);
        for Unordered { unit, class, factors } in units {
            let number = u32::try_from(runs.len() + 1).unwrap_or(u32::MAX);
            let day = u32::try_from(day + 1).unwrap_or(u32::MAX);
            runs.push(PlannedRun { number, unit, class, day, factors });
        }
    }
    notes.extend(spreading.balance.notes(&spreading.all()));
    notes.extend(settings.notes(input));
    let criteria = criteria(input, forecast, &classes(&runs), has_liquid_side(&runs));
    Plan { seed: settings.seed, runs, criteria, notes }
}

/// Adds positive controls of these sizes, turn by turn over the days, and says
/// how many.
fn positive_controls(
    spreading: &mut Spreading<'_>,
    kind: Kind,
    letter: &str,
    sizes: impl Iterator<Item = (f64, u32)>,
    days: usize,
    by_day: &mut [Vec<Unordered>],
) -> usize {
    let mut turn = 0;
    for (cell, (um, units)) in sizes.enumerate() {
        // Labels carry two digits, as they would on a real unit.
        let nominal_um = (um * 100.0).round() / 100.0;
        for unit in 0..units {
            let day = turn % days;
            by_day[day].push(Unordered {
                unit: format!("{letter}{:02}-{:02}", cell + 1, unit + 1),
                class: RunClass::PositiveControl { nominal_um, verified_um: None },
                factors: spreading.of(Place { kind, cell, day }, None),
            });
            turn += 1;
        }
    }
    turn
}

/// The leak that matters, or one above the transition where none is stated.
fn leak_that_matters_um(input: &CaseInput, forecast: &Forecast) -> Option<f64> {
    let mall = input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    let mall_um = mall.map(|mall| mall.flow_equivalent_diameter.um());
    let above_um = forecast.window.smallest.map(|smallest| smallest.um * HIGHEST_SIZE);
    match (mall_um, above_um) {
        (Some(mall), Some(above)) => Some(mall.max(above)),
        (mall, above) => mall.or(above),
    }
}

/// Sizes of positive controls whose leak the liquid covers, by the flow of the
/// dry hole: the leak that matters, and larger ones.
fn liquid_sizes(input: &CaseInput, forecast: &Forecast) -> Vec<f64> {
    let Some(first) = leak_that_matters_um(input, forecast) else { return Vec::new() };
    let mut sizes = vec![first];
    sizes.extend(large_sizes(input, forecast, first * 1.2));
    sizes
}

fn of_liquid_side(n: usize) -> Note {
    if n == 0 {
        return Note::caution(
            "no-liquid-side-controls",
            "the container holds liquid, and no positive control has its leak under it",
            "plan units whose leak the liquid covers, or say why every leak that matters lies \
             above it",
        );
    }
    Note::remark(
        "liquid-side-controls",
        format!(
            "{n} positive controls have their leak under the liquid, sized by the flow of the dry \
             hole; they are counted by themselves, and no criterion rests on them"
        ),
        "fill them as the product is filled, and turn them so that the liquid covers the leak",
    )
}

/// The aged controls, each at every age, with the day of the study counted from
/// 0. The mark of a unit stays, its age stands behind it; so do operator, rig
/// and lot, or age would not be all that differs.
fn aged_controls(
    input: &CaseInput,
    forecast: &Forecast,
    spreading: &mut Spreading<'_>,
    notes: &mut Vec<Note>,
) -> Vec<(usize, Unordered)> {
    let settings = spreading.settings;
    if settings.ages_days.is_empty() || settings.aged_units == 0 {
        if input.profile.product.may_plug {
            notes.push(Note::caution(
                "no-ageing-arm",
                "dried product may close a leak, and the plan does not test units again as they age",
                "add ages, such as --ages-days 0,30,90: a claim holds only as long as leaks stay open",
            ));
        }
        return Vec::new();
    }
    if forecast.window.smallest.is_none() {
        return Vec::new();
    }
    let nominal_um = leak_that_matters_um(input, forecast).unwrap_or(0.0);
    let nominal_um = (nominal_um * 100.0).round() / 100.0;
    let mut ages = settings.ages_days.clone();
    ages.sort_unstable();
    ages.dedup();
    let with_leak = settings.aged_units;
    let units: Vec<RunFactors> = (0..with_leak + with_leak.div_ceil(2))
        .map(|unit| {
            let cell = usize::from(unit >= with_leak);
            spreading.of(Place { kind: Kind::Aged, cell, day: 0 }, None)
        })
        .collect();
    ages.iter()
        .flat_map(|&age_days| {
            (0..).zip(&units).map(move |(unit, factors)| {
                let nominal_um = (unit < with_leak).then_some(nominal_um);
                let run = Unordered {
                    unit: format!("A{:02}{AGE_MARK}{age_days:03}", unit + 1),
                    class: RunClass::AgedControl { nominal_um, age_days },
                    factors: factors.clone(),
                };
                (age_days as usize, run)
            })
        })
        .collect()
}

/// What stands between the mark of an aged unit and its age.
const AGE_MARK: &str = "-d";

/// Mark of an aged unit without its age: the same unit has it at every age.
#[must_use]
pub fn aged_unit(mark: &str) -> &str {
    mark.rsplit_once(AGE_MARK).map_or(mark, |(unit, _)| unit)
}

/// Adds the flow challenges, each flow once before any a second time, and says
/// how many each day has.
fn flow_challenges(
    forecast: &Forecast,
    spreading: &mut Spreading<'_>,
    days: usize,
    by_day: &mut [Vec<Unordered>],
) -> Vec<usize> {
    let settings = spreading.settings;
    let mut counts = vec![0; by_day.len()];
    let Some(at_limit) = forecast.challenge_at_smallest() else { return counts };
    if settings.flow_levels == 0 {
        return counts;
    }
    let flows = crate::forecast::log_grid(
        at_limit * LOWEST_FLOW,
        at_limit * HIGHEST_FLOW,
        settings.flow_levels as usize,
    );
    // A standard is ordered with two digits.
    let flows: Vec<f64> = [0.0].into_iter().chain(flows.into_iter().map(two_digits)).collect();
    // Every rig has a free volume of its own, and so a line of its own.
    let rigs = settings.rigs.max(1) as usize;
    for rig in 0..rigs {
        for challenge in 0..settings.challenges_per_flow {
            let day = challenge as usize % days;
            let number = rig as u32 * settings.challenges_per_flow + challenge + 1;
            for (level, &flow_pa_m3_per_s) in flows.iter().enumerate() {
                let place = Place { kind: Kind::Flow, cell: level, day };
                by_day[day].push(Unordered {
                    unit: format!("F{level}-{number:02}"),
                    class: RunClass::FlowChallenge { flow_pa_m3_per_s },
                    factors: spreading.of(place, Some(rig)),
                });
                counts[day] += 1;
            }
        }
    }
    counts
}

/// Two significant digits, without the last bits that a product leaves.
fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// Letters of blinding codes: none that are taken for another or for a digit.
const CODE_LETTERS: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";
/// Letters in a blinding code: enough that codes of one study do not meet.
const CODE_LENGTH: usize = 4;

/// A code for every planned run, in order, that says nothing of the unit.
///
/// The analyst sees the codes, the key stays with somebody else. Codes come
/// from the seed of the plan and are all different.
#[must_use]
pub fn blinding_codes(plan: &Plan) -> Vec<String> {
    // Streams of days are counted from 0; this one is far from them.
    let mut stream = RandomStream::new(plan.seed, 1 << 32);
    let mut codes: Vec<String> = Vec::with_capacity(plan.runs.len());
    while codes.len() < plan.runs.len() {
        let code: String = (0..CODE_LENGTH)
            .map(|_| char::from(CODE_LETTERS[stream.below(CODE_LETTERS.len() as u64) as usize]))
            .collect();
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    codes
}

/// Sizes above the transition: the leak that matters, and two toward the
/// upper edge of the window, so that a claim does not rest on a forecast.
fn large_sizes(input: &CaseInput, forecast: &Forecast, above_um: f64) -> Vec<f64> {
    let mut sizes = Vec::new();
    let mall = input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    if let Some(mall) = mall {
        sizes.push(mall.flow_equivalent_diameter.um());
    }
    if let Some(largest) = forecast.window.largest {
        let edge = largest.low_um * BELOW_EDGE;
        sizes.push((edge * above_um).max(0.0).sqrt());
        sizes.push(edge);
    }
    sizes.retain(|um| *um > above_um);
    sizes.sort_by(f64::total_cmp);
    sizes.dedup_by(|a, b| (*a / *b - 1.0).abs() < 0.2);
    sizes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rig_gets_every_flow_in_two_digits() {
        let input = crate::worked_cases::lyophilised_vial();
        let quick = crate::forecast::ForecastSettings { n_draws: 16, ..Default::default() };
        let forecast = crate::forecast::forecast(&input, &quick, &|_, _| {}).expect("forecast");
        let plan = plan_runs(&input, &forecast, &PlanSettings { rigs: 2, ..Default::default() });
        let mut on: std::collections::BTreeMap<String, Vec<String>> = Default::default();
        for run in &plan.runs {
            if let RunClass::FlowChallenge { flow_pa_m3_per_s } = run.class {
                let flow = format!("{flow_pa_m3_per_s:e}");
                assert!(flow.len() <= "1.1e-4".len(), "{flow}");
                on.entry(run.factors.rig.clone()).or_default().push(flow);
            }
        }
        let mut flows: Vec<Vec<String>> = on.into_values().collect();
        flows.iter_mut().for_each(|flows| flows.sort());
        assert_eq!(flows.len(), 2);
        assert_eq!(flows[0].len(), 15);
        assert_eq!(flows[0], flows[1]);
        // Five flows, three times each, on each rig.
        flows[0].dedup();
        assert_eq!(flows[0].len(), 5);
    }

    #[test]
    fn codes_are_different_and_come_from_the_seed() {
        let run = |number| PlannedRun {
            number,
            unit: String::new(),
            class: RunClass::Blank,
            day: 1,
            factors: RunFactors::default(),
        };
        let plan = |seed| Plan {
            seed,
            runs: (0..500).map(run).collect(),
            criteria: Vec::new(),
            notes: Vec::new(),
        };
        let codes = blinding_codes(&plan(7));
        let mut sorted = codes.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(sorted.len(), 500);
        assert_eq!(codes, blinding_codes(&plan(7)));
        assert_ne!(codes, blinding_codes(&plan(8)));
    }

    /// Planned: 10 with a leak and 5 without, at three ages; blanks on each of
    /// those days; nothing between.
    #[test]
    fn aged_units_come_back_at_every_age_under_their_mark() {
        let input = crate::worked_cases::ageing_syringe();
        let settings = crate::forecast::ForecastSettings {
            n_draws: 16,
            liquid_side: false,
            ..Default::default()
        };
        let forecast = crate::forecast::forecast(&input, &settings, &|_, _| {}).expect("forecast");
        let none = plan_runs(&input, &forecast, &PlanSettings::default());
        assert!(none.notes.iter().any(|note| note.code == "no-ageing-arm"));
        let settings = PlanSettings { ages_days: vec![30, 0, 90], ..PlanSettings::default() };
        let plan = plan_runs(&input, &forecast, &settings);
        assert!(plan.notes.iter().all(|note| note.code != "no-ageing-arm"));
        let aged: Vec<&PlannedRun> = plan
            .runs
            .iter()
            .filter(|run| matches!(run.class, RunClass::AgedControl { .. }))
            .collect();
        assert_eq!(aged.len(), 3 * 15);
        for unit in ["A01", "A15"] {
            let days: Vec<u32> =
                aged.iter().filter(|run| aged_unit(&run.unit) == unit).map(|run| run.day).collect();
            assert_eq!(days, [1, 31, 91], "{unit}");
        }
        let leaking = aged.iter().filter(|run| run.class.size_um().is_some()).count();
        assert_eq!(leaking, 30);
        let worked: std::collections::BTreeSet<u32> = plan.runs.iter().map(|run| run.day).collect();
        assert_eq!(worked.into_iter().collect::<Vec<_>>(), [1, 2, 3, 31, 91]);
        for day in [31, 91] {
            let first = plan.runs.iter().find(|run| run.day == day).expect("a run");
            assert_eq!(first.class, RunClass::Blank);
        }
        assert!(plan.criteria.iter().any(|one| one.code == "aged-still-found"));
        assert!(plan.criteria.iter().any(|one| one.code == "flow-calibration"));
        // The main arm is as it was.
        let main = |plan: &Plan| {
            plan.runs
                .iter()
                .filter(|run| matches!(run.class, RunClass::PositiveControl { .. }))
                .map(|run| (run.unit.clone(), run.day))
                .collect::<std::collections::BTreeSet<_>>()
        };
        assert_eq!(main(&plan), main(&none));
    }
}

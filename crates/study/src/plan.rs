//! Plan: which units, how many, in which order.

use digits::RandomStream;

use crate::case_input::CaseInput;
use crate::criteria::{Criterion, criteria};
use crate::forecast::{Forecast, mall_at_reference};
use crate::notes::Note;
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
            criteria(input, forecast, &classes(&self.runs))
        } else {
            self.criteria.clone()
        }
    }
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
}

/// How many units of each kind.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSettings {
    /// Seed of the random order.
    pub seed: u64,
    /// Days over which the runs are spread.
    pub days: u32,
    /// Blanks on each day.
    pub blanks_per_day: u32,
    /// Negative controls in all.
    pub negative_controls: u32,
    /// Sizes of positive control.
    pub sizes: u32,
    /// Units of each size.
    pub units_per_size: u32,
    /// Units of each size above the transition: the leak that matters, and
    /// sizes toward the upper edge of the window. A claim ends where tested
    /// sizes end.
    pub units_per_large_size: u32,
    /// Flows of the flow calibration above zero; none leaves it out.
    pub flow_levels: u32,
    /// Challenges at each flow, and with the standard shut.
    pub challenges_per_flow: u32,
    /// Ages at which the aged controls are tested, days since filling; none
    /// leaves the arm out.
    pub ages_days: Vec<u32>,
    /// Aged controls with a leak; half as many without one go with them, so that
    /// a late day does not tell what its units are.
    pub aged_units: u32,
}

impl Default for PlanSettings {
    fn default() -> Self {
        Self {
            seed: 1,
            days: 3,
            blanks_per_day: 3,
            negative_controls: 60,
            sizes: 8,
            units_per_size: 8,
            units_per_large_size: 4,
            flow_levels: 4,
            challenges_per_flow: 3,
            ages_days: Vec::new(),
            aged_units: 10,
        }
    }
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

/// Plans a study: blanks, flow challenges, negative controls and positive
/// controls over the transition of the forecast. Blanks come first on each day,
/// then the flow challenges, then the units, both in random order.
#[must_use]
pub fn plan_runs(input: &CaseInput, forecast: &Forecast, settings: &PlanSettings) -> Plan {
    let mut notes = Vec::new();
    let days = settings.days.max(1);
    let aged = aged_controls(input, forecast, settings, &mut notes);
    let last = aged.iter().map(|(day, ..)| day + 1).max().unwrap_or(0).max(days as usize);
    let mut by_day: Vec<Vec<(String, RunClass)>> = vec![Vec::new(); last];
    for (day, runs) in by_day.iter_mut().enumerate() {
        // Days between are not worked.
        if day >= days as usize && aged.iter().all(|one| one.0 != day) {
            continue;
        }
        for blank in 0..settings.blanks_per_day {
            runs.push((format!("B{}-{}", day + 1, blank + 1), RunClass::Blank));
        }
    }
    let challenges = flow_challenges(forecast, settings, days as usize, &mut by_day);
    for unit in 0..settings.negative_controls {
        by_day[(unit % days) as usize]
            .push((format!("N{:03}", unit + 1), RunClass::NegativeControl));
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
            let mut turn = 0;
            for (index, (um, units)) in sizes.enumerate() {
                // Labels carry two digits, as they would on a real unit.
                let nominal_um = (um * 100.0).round() / 100.0;
                for unit in 0..units {
                    let class = RunClass::PositiveControl { nominal_um, verified_um: None };
                    let mark = format!("P{:02}-{:02}", index + 1, unit + 1);
                    by_day[(turn % days) as usize].push((mark, class));
                    turn += 1;
                }
            }
        }
        None => notes.push(Note::refusal(
            "no-sizes",
            "no positive controls are planned, because no size is forecast to be detectable",
            "change the rig or the cycle until the forecast has a window",
        )),
    }
    for (day, mark, class) in aged {
        by_day[day].push((mark, class));
    }
    let mut runs = Vec::new();
    for (day, mut units) in by_day.into_iter().enumerate() {
        if units.is_empty() {
            continue;
        }
        // Blanks stay first, and flows before units: they show that the rig is
        // fit before units are spent.
        let blanks = settings.blanks_per_day as usize;
        let first_unit = blanks + challenges[day];
        let mut stream = RandomStream::new(settings.seed, day as u64);
        stream.shuffle(&mut units[first_unit..]);
        stream.shuffle(&mut units[blanks..first_unit]);
        for (unit, class) in units {
            let number = u32::try_from(runs.len() + 1).unwrap_or(u32::MAX);
            let day = u32::try_from(day + 1).unwrap_or(u32::MAX);
            runs.push(PlannedRun { number, unit, class, day });
        }
    }
    let criteria = criteria(input, forecast, &classes(&runs));
    Plan { seed: settings.seed, runs, criteria, notes }
}

/// The aged controls, each at every age: day of the study counted from 0, mark,
/// class. The mark of a unit stays, its age stands behind it.
fn aged_controls(
    input: &CaseInput,
    forecast: &Forecast,
    settings: &PlanSettings,
    notes: &mut Vec<Note>,
) -> Vec<(usize, String, RunClass)> {
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
    let Some(smallest) = forecast.window.smallest else { return Vec::new() };
    let mall = input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    let nominal_um =
        mall.map_or(0.0, |mall| mall.flow_equivalent_diameter.um()).max(smallest.um * HIGHEST_SIZE);
    let nominal_um = (nominal_um * 100.0).round() / 100.0;
    let mut ages = settings.ages_days.clone();
    ages.sort_unstable();
    ages.dedup();
    let with_leak = settings.aged_units;
    let all = with_leak + with_leak.div_ceil(2);
    ages.iter()
        .flat_map(|&age_days| {
            (0..all).map(move |unit| {
                let nominal_um = (unit < with_leak).then_some(nominal_um);
                let mark = format!("A{:02}{AGE_MARK}{age_days:03}", unit + 1);
                (age_days as usize, mark, RunClass::AgedControl { nominal_um, age_days })
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
    settings: &PlanSettings,
    days: usize,
    by_day: &mut [Vec<(String, RunClass)>],
) -> Vec<usize> {
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
    for challenge in 0..settings.challenges_per_flow {
        let day = challenge as usize % days;
        for (level, &flow_pa_m3_per_s) in flows.iter().enumerate() {
            let mark = format!("F{level}-{:02}", challenge + 1);
            by_day[day].push((mark, RunClass::FlowChallenge { flow_pa_m3_per_s }));
            counts[day] += 1;
        }
    }
    counts
}

fn two_digits(value: f64) -> f64 {
    let decade = digits::scalar::pow(10.0, digits::scalar::log10(value).floor() - 1.0);
    (value / decade).round() * decade
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
    fn codes_are_different_and_come_from_the_seed() {
        let run =
            |number| PlannedRun { number, unit: String::new(), class: RunClass::Blank, day: 1 };
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

//! How many units of each kind: what the profile asks for, and what shows nothing.

use digits::scalar;
use statistics::tolerance_limits::one_sided_normal_factor;

use crate::case_input::CaseInput;
use crate::criteria::bound_shows_less;
use crate::notes::Note;
use crate::profile::{Profile, Purpose, UseOfTest};
use crate::wording::{percent, rounded};

/// How many units of each kind.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSettings {
    /// Seed of the random order.
    pub seed: u64,
    /// Days over which the runs are spread.
    pub days: u32,
    /// Operators among whom the runs are spread.
    pub operators: u32,
    /// Rigs among which the runs are spread.
    pub rigs: u32,
    /// Lots from which the units come.
    pub lots: u32,
    /// Blanks on each rig on each day.
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
    /// Units of each size whose leak the liquid covers, where the container
    /// holds liquid.
    pub units_per_liquid_size: u32,
    /// Types of defect in plain words, such as laser hole; none says nothing of
    /// them.
    pub defects: Vec<String>,
    /// Flows of the flow calibration above zero; none leaves it out.
    pub flow_levels: u32,
    /// Challenges at each flow, and with the standard shut, on each rig.
    pub challenges_per_flow: u32,
    /// Ages at which the aged controls are tested, days since filling; none
    /// leaves the arm out.
    pub ages_days: Vec<u32>,
    /// Aged controls with a leak; half as many without one go with them, so that
    /// a late day does not tell what its units are.
    pub aged_units: u32,
}

/// Why a plan of such settings shows nothing, or cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanProblem {
    /// No day to work on.
    #[error("a plan of no days has no runs")]
    NoDays,
    /// Too few tight units for a limit.
    #[error(
        "{n} negative controls set no reject limit: at least {least} are needed, and {asked} for the \
         error rates of this profile"
    )]
    NegativeControls {
        /// Asked for.
        n: u32,
        /// Fewest that set one.
        least: u32,
        /// What the profile asks for.
        asked: u32,
    },
    /// No leaking units.
    #[error("without positive controls nothing shows that a leak is found")]
    NoPositiveControls,
    /// Flows without challenges.
    #[error("{levels} flow levels with no challenge at any of them calibrate nothing")]
    NoChallenges {
        /// Flow levels asked for.
        levels: u32,
    },
    /// More than anybody can run.
    #[error("the plan would have {runs} runs; at most {most} are planned")]
    TooMany {
        /// How many it would have.
        runs: u64,
        /// Most that are planned.
        most: u64,
    },
}

/// Fewest negative controls that set a limit (working value: below it the factor
/// is more than twice that of a large sample).
const LEAST_NEGATIVE: u32 = 10;
/// Most negative controls that are asked for.
const MOST_NEGATIVE: u32 = 300;
/// By how much the factor of the tolerance limit may exceed that of a sample
/// without end: a limit a fifth too high costs a tenth of the size that is found
/// (the flow goes with its square). In development a third is borne.
const FACTOR_EXCESS: f64 = 1.2;
const FACTOR_EXCESS_IN_DEVELOPMENT: f64 = 1.3;
/// Most runs that are planned.
const MOST_RUNS: u64 = 20_000;

impl PlanSettings {
    /// The usual settings with the sample sizes that the error rates of a profile
    /// ask for.
    #[must_use]
    pub fn for_profile(profile: &Profile) -> Self {
        let usual = Self::default();
        let negative_controls = negative_controls(&profile.purpose, usual.lots);
        Self { negative_controls, ..usual }
    }

    /// Whether a study of these settings can show anything, before it is planned.
    ///
    /// # Errors
    /// What is missing or too much.
    pub fn check(&self, profile: &Profile) -> Result<(), PlanProblem> {
        if self.days == 0 {
            return Err(PlanProblem::NoDays);
        }
        if self.negative_controls < LEAST_NEGATIVE {
            return Err(PlanProblem::NegativeControls {
                n: self.negative_controls,
                least: LEAST_NEGATIVE,
                asked: negative_controls(&profile.purpose, self.lots),
            });
        }
        if u64::from(self.sizes) * u64::from(self.units_per_size) == 0
            && self.units_per_large_size == 0
        {
            return Err(PlanProblem::NoPositiveControls);
        }
        if self.flow_levels > 0 && self.challenges_per_flow == 0 {
            return Err(PlanProblem::NoChallenges { levels: self.flow_levels });
        }
        let runs = self.most_runs();
        if runs > MOST_RUNS {
            return Err(PlanProblem::TooMany { runs, most: MOST_RUNS });
        }
        Ok(())
    }

    /// An upper bound of the runs.
    fn most_runs(&self) -> u64 {
        let wide = |a: u32, b: u32| u64::from(a).saturating_mul(u64::from(b));
        let days = u64::from(self.days).saturating_add(self.ages_days.len() as u64);
        [
            wide(self.blanks_per_day, self.rigs).saturating_mul(days),
            u64::from(self.negative_controls),
            wide(self.sizes, self.units_per_size),
            wide(self.units_per_large_size, 8),
            wide(self.units_per_liquid_size, 8),
            wide(self.challenges_per_flow, self.flow_levels.saturating_add(1))
                .saturating_mul(u64::from(self.rigs)),
            (self.ages_days.len() as u64).saturating_mul(wide(self.aged_units, 2)),
        ]
        .into_iter()
        .fold(u64::from(self.days), u64::saturating_add)
    }

    /// What the sample sizes rest on, and what they do not carry.
    pub(super) fn notes(&self, input: &CaseInput) -> Vec<Note> {
        let purpose = &input.profile.purpose;
        let asked = negative_controls(purpose, self.lots);
        let mut notes = Vec::new();
        let excess = excess(self.negative_controls, purpose).map_or_else(String::new, |excess| {
            format!(
                ": the limit then lies {} % further above the mean than with any number of them",
                rounded(100.0 * (excess - 1.0))
            )
        });
        if self.negative_controls < asked {
            notes.push(Note::caution(
                "few-negative-controls",
                format!(
                    "{} negative controls set a limit for {} % of good units at {} % confidence{excess}",
                    self.negative_controls,
                    percent(purpose.tolerable_false_reject),
                    percent(purpose.confidence)
                ),
                format!("plan {asked}, or rehearse the study to see what fewer cost"),
            ));
        } else {
            notes.push(Note::remark(
                "sample-sizes",
                format!(
                    "{} negative controls, because at most {} % of good units may be rejected, at \
                     {} % confidence{excess}",
                    self.negative_controls,
                    percent(purpose.tolerable_false_reject),
                    percent(purpose.confidence)
                ),
                "rehearse the study before units are spent",
            ));
        }
        notes.extend(bound_shows_less(purpose));
        // All found of n shows p with confidence 1 - p^n.
        let (p, confidence) =
            (purpose.required_detection.fraction(), purpose.confidence.fraction());
        let n = self.units_per_large_size;
        if n > 0 && p > 0.0 && p < 1.0 && confidence < 1.0 {
            let needed = (scalar::ln(1.0 - confidence) / scalar::ln(p)).ceil();
            let shown = scalar::pow(1.0 - confidence, 1.0 / f64::from(n));
            if f64::from(n) < needed {
                notes.push(Note::remark(
                    "what-all-found-shows",
                    format!(
                        "{n} controls of the leak that matters, all rejected, show by themselves that \
                         {} % are found at {} % confidence; {} of them would show {} %. The line of \
                         the readings, or the curve of hits, has to carry the rest",
                        rounded(100.0 * shown),
                        percent(purpose.confidence),
                        rounded(needed),
                        percent(purpose.required_detection)
                    ),
                    "rehearse the study: it says how often the bound is then met",
                ));
            }
        }
        notes
    }
}

/// The factor of a one-sided tolerance limit from `n` values over the quantile
/// that it estimates.
fn excess(n: u32, purpose: &Purpose) -> Option<f64> {
    let content = 1.0 - purpose.tolerable_false_reject.fraction();
    let confidence = purpose.confidence.fraction();
    let factor = one_sided_normal_factor(n as usize, content, confidence).ok()?;
    let quantile = digits::normal::quantile(content);
    (quantile > 0.0).then(|| factor / quantile)
}

/// Fewest negative controls, a whole number of each lot, whose limit lies no
/// further above the mean than [`FACTOR_EXCESS`] allows.
fn negative_controls(purpose: &Purpose, lots: u32) -> u32 {
    let allowed = match purpose.use_of_test {
        UseOfTest::Development => FACTOR_EXCESS_IN_DEVELOPMENT,
        _ => FACTOR_EXCESS,
    };
    let lots = lots.clamp(1, MOST_NEGATIVE);
    (1..=MOST_NEGATIVE / lots)
        .map(|each| each * lots)
        .filter(|&n| n >= LEAST_NEGATIVE)
        .find(|&n| excess(n, purpose).is_none_or(|excess| excess <= allowed))
        .unwrap_or(MOST_NEGATIVE)
}

impl Default for PlanSettings {
    fn default() -> Self {
        Self {
            seed: 1,
            days: 3,
            operators: 1,
            rigs: 1,
            // At least three lots are asked for wherever a limit is to hold for
            // others (common practice).
            lots: 3,
            blanks_per_day: 3,
            negative_controls: 60,
            sizes: 8,
            units_per_size: 8,
            units_per_large_size: 4,
            units_per_liquid_size: 4,
            defects: Vec::new(),
            flow_levels: 4,
            challenges_per_flow: 3,
            ages_days: Vec::new(),
            aged_units: 10,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use physics::quantities::Probability;

    fn profile() -> Profile {
        crate::worked_cases::lyophilised_vial().profile
    }

    /// Factors of the noncentral t (scipy 1.17): 99.9 % at 95 % and 60 values
    /// 1.196 times the quantile, 30 values 1.302; 99.9 % at 99 % and 120 values
    /// 1.191, 90 values 1.227.
    #[test]
    fn the_number_of_negative_controls_follows_from_the_error_rates() {
        let mut profile = profile();
        let n = |profile: &Profile| PlanSettings::for_profile(profile).negative_controls;
        profile.purpose.use_of_test = UseOfTest::Release;
        let release = n(&profile);
        assert!((55..=60).contains(&release), "{release}");
        profile.purpose.confidence = Probability::new(0.99).unwrap();
        let surer = n(&profile);
        assert!((100..=120).contains(&surer) && surer % 3 == 0, "{surer}");
        profile.purpose.confidence = Probability::new(0.95).unwrap();
        profile.purpose.use_of_test = UseOfTest::Development;
        let early = n(&profile);
        assert!((30..=33).contains(&early), "{early}");
    }

    #[test]
    fn a_plan_that_shows_nothing_is_refused() {
        let profile = profile();
        let usual = PlanSettings::for_profile(&profile);
        assert_eq!(usual.check(&profile), Ok(()));
        let refused = |settings: PlanSettings| settings.check(&profile).expect_err("refused");
        assert_eq!(refused(PlanSettings { days: 0, ..usual.clone() }), PlanProblem::NoDays);
        assert!(matches!(
            refused(PlanSettings { negative_controls: 0, ..usual.clone() }),
            PlanProblem::NegativeControls { n: 0, .. }
        ));
        assert_eq!(
            refused(PlanSettings { sizes: 0, units_per_large_size: 0, ..usual.clone() }),
            PlanProblem::NoPositiveControls
        );
        assert_eq!(
            refused(PlanSettings { challenges_per_flow: 0, ..usual.clone() }),
            PlanProblem::NoChallenges { levels: 4 }
        );
        for huge in [
            PlanSettings { negative_controls: u32::MAX, ..usual.clone() },
            PlanSettings { days: u32::MAX, blanks_per_day: u32::MAX, rigs: u32::MAX, ..usual },
        ] {
            assert!(matches!(refused(huge), PlanProblem::TooMany { .. }));
        }
    }

    /// 0.05^(1/4) = 47.3 %; ln 0.05 / ln 0.95 = 58.4 (hand calculation).
    #[test]
    fn what_all_found_shows_is_said() {
        let input = crate::worked_cases::lyophilised_vial();
        let notes = PlanSettings::for_profile(&input.profile).notes(&input);
        let text = &notes.iter().find(|note| note.code == "what-all-found-shows").unwrap().text;
        assert!(text.contains("47.3 %") && text.contains("59 of them"), "{text}");
        let few = PlanSettings { negative_controls: 12, ..PlanSettings::default() };
        assert!(few.notes(&input).iter().any(|note| note.code == "few-negative-controls"));
    }
}

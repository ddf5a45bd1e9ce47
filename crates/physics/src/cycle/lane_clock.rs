//! One lane's way through the stages of its cycle, and its record.

use super::errors::CycleError;
use super::program::{MeasureEnd, Program};
use super::rates::{CHAMBER, HEADSPACE, N, POCKET, WARMTH};
use super::simulate::{CycleOutcome, RiseContributions, TierOutcome};
use crate::quantities::{AbsolutePressure, PressureDifference};
use crate::trace::{PressureTrace, Stage, StageSpan};

/// What the stepper needs to know of a lane.
#[derive(Debug)]
pub(super) struct LaneClock {
    /// Which program it runs; `None` when idle.
    pub job: Option<usize>,
    pub time_s: f64,
    /// Length to try next.
    pub step_s: f64,
    /// Length of the step under way.
    pub trial_s: f64,
    /// The step under way ends the stage by time.
    pub last: bool,
    /// The step under way is meant to end on an event.
    pub landing: Option<Landing>,
    /// Step length to go back to after a landing.
    pub resume_s: f64,
    pub stage: Stage,
    pub stage_start_s: f64,
    pub stage_end_s: f64,
    /// Pressure that ends pumping.
    pub target_pa: f64,
    /// Which side of the law's kinks the lane is on.
    pub region: u8,
    pub steps: u32,
    pub next_sample: usize,
    pub trace: PressureTrace,
    tier: usize,
    stage_start: [f64; N],
    evacuate_end_s: f64,
    reached: bool,
    tiers: Vec<TierOutcome>,
    headspace_at_measure_start: f64,
}

/// An event on which a step is to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Landing {
    /// The pressure that ends pumping; attempts so far.
    Target(u8),
    /// A kink of the leak law: the region behind it, attempts so far.
    Kink(u8, u8),
}

/// Pressures of a lane at the moment of a stage change.
pub(super) struct Readings {
    pub chamber_pa: f64,
    pub headspace_pa: f64,
    pub chamber_m3: f64,
}

impl LaneClock {
    pub const fn idle() -> Self {
        Self {
            job: None,
            time_s: 0.0,
            step_s: 0.0,
            trial_s: 0.0,
            last: false,
            landing: None,
            resume_s: 0.0,
            stage: Stage::Vent,
            stage_start_s: 0.0,
            stage_end_s: 0.0,
            target_pa: 0.0,
            region: 0,
            steps: 0,
            next_sample: 0,
            trace: PressureTrace {
                times_s: Vec::new(),
                pressures_pa: Vec::new(),
                temperatures_k: Vec::new(),
                stages: Vec::new(),
            },
            tier: 0,
            stage_start: [0.0; N],
            evacuate_end_s: 0.0,
            reached: false,
            tiers: Vec::new(),
            headspace_at_measure_start: 0.0,
        }
    }

    /// Sets the lane to the start of a program.
    pub fn begin<K>(&mut self, job: usize, program: &Program<K>, want_trace: bool) {
        *self = Self::idle();
        self.job = Some(job);
        self.tiers.reserve(program.tiers.len());
        if want_trace {
            let samples = (program.longest_s() / program.interval_s) as usize + 2;
            self.trace.times_s.reserve(samples);
            self.trace.pressures_pa.resize(samples + 8, 0.0);
            self.trace.temperatures_k.resize(samples + 8, 0.0);
        }
        self.stage_start = program.start;
        self.open_tier(program);
    }

    pub fn pumping(&self) -> bool {
        self.job.is_some() && self.stage == Stage::Evacuate
    }

    fn open_tier<K>(&mut self, program: &Program<K>) {
        let tier = &program.tiers[self.tier];
        self.enter(Stage::Evacuate, self.time_s + tier.evacuate_limit_s);
        self.target_pa = tier.target_pa;
        self.reached = false;
    }

    fn enter(&mut self, stage: Stage, end_s: f64) {
        self.stage = stage;
        self.stage_start_s = self.time_s;
        self.stage_end_s = end_s;
        // The valve moved: rates jump, so the step starts small again.
        self.step_s = FIRST_STEP_S;
    }

    /// Closes the stage that has just ended and opens the next; true when the
    /// cycle is over. The state is corrected to the exact balance of gas.
    pub fn next_stage<K>(
        &mut self,
        program: &Program<K>,
        state: &mut [f64; N],
        on_target: bool,
        readings: impl Fn(&[f64; N]) -> Readings,
    ) -> bool {
        if self.stage != Stage::Evacuate {
            // Nothing leaves a closed chamber: its gas follows from the rest,
            // outgassing in closed form.
            state[CHAMBER] = self.stage_start[CHAMBER]
                + (self.stage_start[HEADSPACE] - state[HEADSPACE])
                + (self.stage_start[POCKET] - state[POCKET])
                + program.outgassed(self.stage_start_s, self.time_s);
        }
        let now = readings(state);
        let number = u16::try_from(self.tier + 1).unwrap_or(u16::MAX);
        self.trace.stages.push(StageSpan {
            stage: self.stage,
            tier: number,
            start_s: self.stage_start_s,
            end_s: self.time_s,
        });
        let plan = &program.tiers[self.tier];
        let before = self.stage_start;
        self.stage_start = *state;
        match self.stage {
            Stage::Evacuate => {
                self.evacuate_end_s = self.time_s;
                self.reached = on_target;
                if plan.reach_limit_pa.is_some_and(|limit| now.chamber_pa > limit) {
                    self.reached = false;
                    self.headspace_at_measure_start = now.headspace_pa;
                    self.close_tier(now.chamber_pa, 0.0, RiseContributions::default(), true);
                    return true;
                }
                self.enter(Stage::Settle, self.time_s + plan.settle_s);
                false
            }
            Stage::Settle => {
                self.headspace_at_measure_start = now.headspace_pa;
                let end = match plan.measure {
                    MeasureEnd::After(length) => self.time_s + length,
                    MeasureEnd::At(end) => end.max(self.time_s),
                };
                self.enter(Stage::Measure, end);
                false
            }
            Stage::Measure | Stage::Vent => {
                let volume = now.chamber_m3;
                let at_start = readings(&before).chamber_pa;
                let rise = now.chamber_pa - at_start;
                let warming = |s: &[f64; N]| s[CHAMBER] / volume * (s[WARMTH] - 1.0);
                let parts = RiseContributions {
                    leak_pa: (before[HEADSPACE] - state[HEADSPACE]) / volume,
                    outgassing_pa: program.outgassed(self.stage_start_s, self.time_s) / volume,
                    virtual_leak_pa: (before[POCKET] - state[POCKET]) / volume,
                    thermal_pa: warming(state) - warming(&before),
                };
                let failed = plan.rise_limit_pa.is_some_and(|limit| rise > limit);
                self.close_tier(at_start, rise, parts, failed);
                self.tier += 1;
                if failed || self.tier >= program.tiers.len() {
                    return true;
                }
                self.open_tier(program);
                false
            }
        }
    }

    fn close_tier(&mut self, from_pa: f64, rise_pa: f64, parts: RiseContributions, failed: bool) {
        let start = AbsolutePressure::from_pa(from_pa);
        let end = start + PressureDifference::from_pa(rise_pa);
        self.tiers.push(TierOutcome {
            reached_target: self.reached,
            evacuate_end_s: self.evacuate_end_s,
            pressure_at_settle_end: start,
            pressure_at_measure_end: end,
            rise: end - start,
            headspace_at_measure_start: AbsolutePressure::from_pa(self.headspace_at_measure_start),
            contributions: parts,
            stopped_early: failed,
        });
    }

    /// Hands over the record of a finished cycle.
    pub fn finish(
        &mut self,
        headspace_pa: f64,
        interval_s: f64,
    ) -> Result<CycleOutcome, CycleError> {
        self.job = None;
        let samples = self.next_sample;
        self.trace.pressures_pa.truncate(samples);
        self.trace.temperatures_k.truncate(samples);
        let counts = 0..i32::try_from(samples).unwrap_or(i32::MAX);
        self.trace.times_s.extend(counts.map(|k| f64::from(k) * interval_s));
        Ok(CycleOutcome {
            trace: core::mem::take(&mut self.trace),
            tiers: core::mem::take(&mut self.tiers),
            headspace_end: AbsolutePressure::from_pa(headspace_pa),
        })
    }
}

/// Step with which a stage begins, s.
pub(super) const FIRST_STEP_S: f64 = 1.0e-3;

//! One lane's way through the stages of its cycle, and its record.

use digits::lanes::{Eight, Lanes};

use super::balance::GasBalance;
use super::errors::CycleError;
use super::program::{MeasureEnd, Program};
use super::rates::{CHAMBER, Contents, HEADSPACE, N, POCKET, WARMTH};
use super::simulate::{CycleOutcome, RiseContributions, TierOutcome};
use super::stepping::Dense;
use crate::quantities::{AbsolutePressure, PressureDifference};
use crate::trace::{PressureTrace, Stage, StageSpan};

/// What the stepper needs to know of a lane.
#[derive(Debug)]
pub(super) struct LaneClock {
    /// Which program it runs; `None` when idle.
    pub job: Option<usize>,
    /// Length with which the stage begins; none where the steps go on.
    pub first_step_s: Option<f64>,
    /// The kink on which the step under way is meant to end, if any.
    pub landing: Landing,
    /// The part of the step under way that counts: below 1 where it passes
    /// the pressure that ends pumping.
    pub part: f64,
    /// Step length to go back to after a landing.
    pub resume_s: f64,
    pub stage: Stage,
    pub stage_start_s: f64,
    pub stage_end_s: f64,
    /// Pressure that ends pumping.
    pub target_pa: f64,
    pub next_sample: usize,
    /// Last sample of the step under way.
    pub last_sample: usize,
    pub trace: PressureTrace,
    tier: usize,
    stage_start: [f64; N],
    evacuate_end_s: f64,
    reached: bool,
    tiers: Vec<TierOutcome>,
    headspace_at_measure_start: f64,
    balance: GasBalance,
}

/// A kink of the leak law on which a step is to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Landing {
    /// The region behind it.
    pub beyond: u8,
    /// Attempts so far.
    pub attempts: u8,
}

/// Eight lanes in which samples are computed.
pub(super) trait SampleLanes: Lanes {
    /// From numbers in order.
    fn from_array(values: [f64; 8]) -> Self;
    /// The numbers in order.
    fn to_array(self) -> [f64; 8];
}

macro_rules! sample_lanes {
    ($lanes:ty) => {
        impl SampleLanes for $lanes {
            #[inline(always)]
            fn from_array(values: [f64; 8]) -> Self {
                <$lanes>::from_array(values)
            }
            #[inline(always)]
            fn to_array(self) -> [f64; 8] {
                <$lanes>::to_array(self)
            }
        }
    };
}

sample_lanes!(Eight);
#[cfg(target_arch = "x86_64")]
sample_lanes!(digits::lanes::EightAvx2);
#[cfg(target_arch = "x86_64")]
sample_lanes!(digits::lanes::EightAvx512);

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
            first_step_s: None,
            landing: Landing { beyond: 0, attempts: 0 },
            part: 1.0,
            resume_s: 0.0,
            stage: Stage::Vent,
            stage_start_s: 0.0,
            stage_end_s: 0.0,
            target_pa: 0.0,
            next_sample: 0,
            last_sample: 0,
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
            balance: GasBalance { start: 0.0, end: 0.0, gained: 0.0, pumped: 0.0 },
        }
    }

    /// Sets the lane to the start of a program.
    pub fn begin<K>(&mut self, job: usize, program: &Program<K>, want_trace: bool) {
        *self = Self::idle();
        self.job = Some(job);
        self.tiers.reserve(program.tiers.len());
        if want_trace {
            let samples = (program.longest_s() / program.interval_s) as usize + 2;
            self.trace.times_s.reserve(samples + 8);
            self.trace.pressures_pa.reserve(samples + 8);
            self.trace.temperatures_k.reserve(samples + 8);
        }
        self.stage_start = program.start;
        self.balance.start = gas_in(&program.start);
        self.open_tier(program, 0.0);
    }

    pub fn pumping(&self) -> bool {
        self.job.is_some() && self.stage == Stage::Evacuate
    }

    /// Does a step up to this time hold samples?
    #[inline(always)]
    pub fn due(&mut self, end_s: f64, interval_s: f64) -> bool {
        // A sample that falls on the end by rounding belongs to it.
        self.last_sample = ((end_s / interval_s) * (1.0 + 1e-14) + 1e-9) as usize;
        self.last_sample >= self.next_sample
    }

    /// Writes the samples of an accepted step, [`Self::next_sample`] to
    /// [`Self::last_sample`], eight at a time. Those beyond the step's end are
    /// written again by the next step, and the surplus is cut off when the
    /// cycle is over.
    #[inline(always)]
    pub fn sample<K, S: SampleLanes>(
        &mut self,
        dense: &Dense,
        [start_s, length_s]: [f64; 2],
        open: bool,
        per_chamber: f64,
        program: &Program<K>,
    ) {
        let start = S::splat(start_s);
        let per_length = S::splat(1.0 / length_s);
        let interval = S::splat(program.interval_s);
        let wall = S::splat(program.wall_k);
        let per_chamber = S::splat(per_chamber);
        let mut at = self.next_sample;
        while at <= self.last_sample {
            let first = at as f64;
            let count = S::splat(first) + S::from_array(FIRST_EIGHT);
            let time = count * interval;
            let part = (time - start) * per_length;
            let (first, second) = (dense.at(CHAMBER, part), dense.at(WARMTH, part));
            let (held, warmth) = if open {
                (Contents::pumping(first, second), second)
            } else {
                (Contents::closed(first, second), second / first)
            };
            let pressure = held.pressure_volume * per_chamber;
            self.trace.times_s.truncate(at);
            self.trace.times_s.extend_from_slice(&time.to_array());
            self.trace.pressures_pa.truncate(at);
            self.trace.pressures_pa.extend_from_slice(&pressure.to_array());
            self.trace.temperatures_k.truncate(at);
            self.trace.temperatures_k.extend_from_slice(&(warmth * wall).to_array());
            at += 8;
        }
        self.next_sample = self.last_sample + 1;
    }

    fn open_tier<K>(&mut self, program: &Program<K>, time_s: f64) {
        let tier = &program.tiers[self.tier];
        self.enter(Stage::Evacuate, time_s, time_s + tier.evacuate_limit_s);
        self.target_pa = tier.target_pa;
        self.reached = false;
    }

    fn enter(&mut self, stage: Stage, start_s: f64, end_s: f64) {
        self.stage = stage;
        self.stage_start_s = start_s;
        self.stage_end_s = end_s;
        // Where the valve moves, rates jump and the step starts small again;
        // between settling and measuring nothing happens to the gas.
        self.first_step_s = (stage != Stage::Measure).then_some(FIRST_STEP_S);
    }

    /// Closes the stage that has just ended and opens the next; true when the
    /// cycle is over. The state, in the places of a closed chamber, is corrected
    /// to the exact balance of gas.
    pub fn next_stage<K>(
        &mut self,
        program: &Program<K>,
        time_s: f64,
        state: &mut [f64; N],
        on_target: bool,
        readings: impl Fn(&[f64; N]) -> Readings,
    ) -> bool {
        let outgassed = program.outgassed(self.stage_start_s, time_s);
        // What the chamber would hold had nothing left it.
        let full = self.stage_start[CHAMBER]
            + (self.stage_start[HEADSPACE] - state[HEADSPACE])
            + (self.stage_start[POCKET] - state[POCKET])
            + outgassed;
        self.balance.gained += outgassed;
        if self.stage == Stage::Evacuate {
            self.balance.pumped += full - state[CHAMBER];
        } else {
            // Nothing leaves a closed chamber: its gas follows from the rest,
            // outgassing in closed form.
            state[CHAMBER] = full;
        }
        self.balance.end = gas_in(state);
        let now = readings(state);
        let number = u16::try_from(self.tier + 1).unwrap_or(u16::MAX);
        self.trace.stages.push(StageSpan {
            stage: self.stage,
            tier: number,
            start_s: self.stage_start_s,
            end_s: time_s,
        });
        let plan = &program.tiers[self.tier];
        let before = self.stage_start;
        self.stage_start = *state;
        match self.stage {
            Stage::Evacuate => {
                self.evacuate_end_s = time_s;
                self.reached = on_target;
                if plan.reach_limit_pa.is_some_and(|limit| now.chamber_pa > limit) {
                    self.reached = false;
                    self.headspace_at_measure_start = now.headspace_pa;
                    self.close_tier(now.chamber_pa, 0.0, RiseContributions::default(), true);
                    return true;
                }
                self.enter(Stage::Settle, time_s, time_s + plan.settle_s);
                false
            }
            Stage::Settle => {
                self.headspace_at_measure_start = now.headspace_pa;
                let end = match plan.measure {
                    MeasureEnd::After(length) => time_s + length,
                    MeasureEnd::At(end) => end.max(time_s),
                };
                self.enter(Stage::Measure, time_s, end);
                false
            }
            Stage::Measure | Stage::Vent => {
                let volume = now.chamber_m3;
                let at_start = readings(&before).chamber_pa;
                let rise = now.chamber_pa - at_start;
                let warming = |s: &[f64; N]| (s[WARMTH] - s[CHAMBER]) / volume;
                let parts = RiseContributions {
                    leak_pa: (before[HEADSPACE] - state[HEADSPACE]) / volume,
                    outgassing_pa: outgassed / volume,
                    virtual_leak_pa: (before[POCKET] - state[POCKET]) / volume,
                    thermal_pa: warming(state) - warming(&before),
                };
                let failed = plan.rise_limit_pa.is_some_and(|limit| rise > limit);
                self.close_tier(at_start, rise, parts, failed);
                self.tier += 1;
                if failed || self.tier >= program.tiers.len() {
                    return true;
                }
                self.open_tier(program, time_s);
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
    pub fn finish(&mut self, headspace_pa: f64) -> Result<CycleOutcome, CycleError> {
        self.job = None;
        let samples = self.next_sample;
        self.trace.times_s.truncate(samples);
        self.trace.pressures_pa.truncate(samples);
        self.trace.temperatures_k.truncate(samples);
        Ok(CycleOutcome {
            trace: core::mem::take(&mut self.trace),
            tiers: core::mem::take(&mut self.tiers),
            headspace_end: AbsolutePressure::from_pa(headspace_pa),
            balance: self.balance,
        })
    }
}

/// Gas in chamber, headspace and pocket, in the places of a closed chamber.
fn gas_in(state: &[f64; N]) -> f64 {
    state[CHAMBER] + state[HEADSPACE] + state[POCKET]
}

/// Step with which a stage begins, s.
pub(super) const FIRST_STEP_S: f64 = 1.0e-2;

/// Places of eight samples in a row.
const FIRST_EIGHT: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];

//! Runs cycles in lanes, each with its own step length, stages and events.
//!
//! Lanes never exchange a number: what a lane computes does not depend on
//! its neighbours, so single runs and batches give the same digits.

use digits::lanes::{Eight, Lanes};

use super::errors::CycleError;
use super::lane_clock::{Landing, LaneClock, Readings};
use super::leak_lanes::LeakLanes;
use super::program::Program;
use super::rates::{CHAMBER, GasRates, HEADSPACE, N, WARMTH};
use super::simulate::CycleOutcome;
use super::stepping::{Trial, next_length_factor};
use crate::trace::Stage;

/// Most steps of one cycle before the solver gives up.
const MOST_STEPS: u32 = 2_000_000;
/// Steps shorter than this are taken as they are, s.
const SHORTEST_STEP_S: f64 = 1.0e-11;
/// How near its pressure an evacuation must end, relative.
const TARGET_TOLERANCE: f64 = 2.0e-10;
/// How near a kink of the leak law a step must end, relative.
const KINK_TOLERANCE: f64 = 1.0e-9;

type Answer = Result<CycleOutcome, CycleError>;

/// Runs all programs; answers in their order.
#[inline(always)]
pub(super) fn run<V: Lanes, L: LeakLanes<V>>(
    programs: &[Program<L::Lane>],
    want_trace: bool,
) -> Vec<Answer> {
    let mut answers: Vec<Option<Answer>> = programs.iter().map(|_| None).collect();
    let mut lanes = Lockstep::<V, L>::new(want_trace);
    let mut next = 0;
    for lane in 0..V::WIDTH {
        lanes.load(lane, programs, &mut next);
    }
    lanes.refresh_all();
    while lanes.clocks.iter().any(|clock| clock.job.is_some()) {
        lanes.advance(programs, &mut next, &mut answers);
    }
    answers.into_iter().map(|answer| answer.unwrap_or(Err(CycleError::NoTiers))).collect()
}

struct Lockstep<V, L> {
    model: GasRates<V, L>,
    state: [V; N],
    rates: [V; N],
    time: V,
    open: V,
    clocks: Vec<LaneClock>,
    want_trace: bool,
}

/// What becomes of a trial step.
enum Verdict {
    Reject,
    Accept,
    /// Accepted, and the stage ends with it; on its target or by time.
    StageEnd {
        on_target: bool,
    },
}

impl<V: Lanes, L: LeakLanes<V>> Lockstep<V, L> {
    fn new(want_trace: bool) -> Self {
        let zero = V::splat(0.0);
        let one = V::splat(1.0);
        Self {
            model: GasRates::idle(),
            state: [one, one, zero, zero],
            rates: [zero; N],
            time: zero,
            open: zero,
            clocks: (0..V::WIDTH).map(|_| LaneClock::idle()).collect(),
            want_trace,
        }
    }

    /// Puts the next waiting program into a lane, or idles it.
    fn load(&mut self, lane: usize, programs: &[Program<L::Lane>], next: &mut usize) {
        let Some(program) = programs.get(*next) else {
            self.clocks[lane].job = None;
            self.open.set_lane(lane, 0.0);
            return;
        };
        self.model.load(lane, &program.constants, program.leak.as_ref());
        for (slot, &value) in self.state.iter_mut().zip(&program.start) {
            slot.set_lane(lane, value);
        }
        self.clocks[lane].begin(*next, program, self.want_trace);
        *next += 1;
        self.time.set_lane(lane, 0.0);
        self.open.set_lane(lane, 1.0);
        let (chamber_pa, headspace_pa) = self.pressures(lane);
        self.clocks[lane].region = self.region(lane, chamber_pa, headspace_pa);
    }

    fn any_open(&self) -> bool {
        self.clocks.iter().any(LaneClock::pumping)
    }

    #[inline(always)]
    fn refresh_all(&mut self) {
        let any = self.any_open();
        self.rates = self.model.rates(self.time, &self.state, self.open, any);
    }

    fn pressures(&self, lane: usize) -> (f64, f64) {
        (
            self.model.pressure_in(
                lane,
                self.state[CHAMBER].lane(lane),
                self.state[WARMTH].lane(lane),
            ),
            self.model.headspace_in(lane, self.state[HEADSPACE].lane(lane)),
        )
    }

    /// Which side of the kinks a pair of pressures lies on: 2 is the middle,
    /// where both are nearly equal.
    #[inline(always)]
    fn region(&self, lane: usize, chamber_pa: f64, headspace_pa: f64) -> u8 {
        let [far, near] = self.model.leak.kinks(lane);
        if chamber_pa <= far * headspace_pa {
            0
        } else if chamber_pa <= near * headspace_pa {
            1
        } else if headspace_pa > near * chamber_pa {
            2
        } else if headspace_pa > far * chamber_pa {
            3
        } else {
            4
        }
    }

    /// Positive beyond the border between a region and the next.
    fn beyond(&self, lane: usize, border: u8, chamber_pa: f64, headspace_pa: f64) -> f64 {
        let [far, near] = self.model.leak.kinks(lane);
        match border {
            0 => chamber_pa - far * headspace_pa,
            1 => chamber_pa - near * headspace_pa,
            2 => near * chamber_pa - headspace_pa,
            _ => far * chamber_pa - headspace_pa,
        }
    }

    /// One trial step in every lane.
    #[inline(always)]
    fn advance(
        &mut self,
        programs: &[Program<L::Lane>],
        next: &mut usize,
        answers: &mut [Option<Answer>],
    ) {
        let mut h = V::splat(0.0);
        for (lane, clock) in self.clocks.iter_mut().enumerate() {
            if clock.job.is_none() {
                continue;
            }
            let left = clock.stage_end_s - clock.time_s;
            // A sliver left over by rounding joins the last step.
            clock.last = clock.landing.is_none() && clock.step_s >= left * (1.0 - 1e-9);
            clock.trial_s = if clock.last { left } else { clock.step_s };
            h.set_lane(lane, clock.trial_s);
        }
        let any_open = self.any_open();
        let trial = Trial::attempt(
            &self.model,
            self.time,
            &self.state,
            &self.rates,
            h,
            self.open,
            any_open,
        );
        let mut restart = [false; 8];
        for (lane, again) in restart.iter_mut().enumerate().take(V::WIDTH) {
            let Some(job) = self.clocks[lane].job else { continue };
            self.clocks[lane].steps += 1;
            if self.clocks[lane].steps > MOST_STEPS {
                answers[job] = Some(Err(CycleError::TooStiff {
                    steps: self.clocks[lane].steps,
                    time_s: self.clocks[lane].time_s,
                }));
                self.load(lane, programs, next);
                *again = true;
                continue;
            }
            let verdict = self.judge(lane, &trial);
            if matches!(verdict, Verdict::Reject) {
                continue;
            }
            self.accept(lane, &trial, &programs[job], verdict_end(&verdict));
            if let Verdict::StageEnd { on_target } = verdict {
                *again = true;
                if self.next_stage(lane, &programs[job], on_target) {
                    let (_, headspace_pa) = self.pressures(lane);
                    answers[job] =
                        Some(self.clocks[lane].finish(headspace_pa, programs[job].interval_s));
                    self.load(lane, programs, next);
                }
            }
        }
        if restart.iter().any(|&one| one) {
            let any = self.any_open();
            let fresh = self.model.rates(self.time, &self.state, self.open, any);
            for (slot, value) in self.rates.iter_mut().zip(&fresh) {
                for (lane, _) in restart.iter().enumerate().filter(|(_, again)| **again) {
                    slot.set_lane(lane, value.lane(lane));
                }
            }
        }
    }

    /// Decides on a trial step and sets the length of the next.
    #[inline(always)]
    fn judge(&mut self, lane: usize, trial: &Trial<V>) -> Verdict {
        let clock = &mut self.clocks[lane];
        let length = clock.trial_s;
        let error = trial.error.lane(lane);
        let good = error <= 1.0;
        // An error that is not a number is a bad one.
        let factor =
            if good || error > 1.0 { next_length_factor(error).clamp(0.2, 5.0) } else { 0.2 };
        let next = length * factor;
        if !good && length > SHORTEST_STEP_S {
            clock.step_s = next.min(0.9 * length);
            clock.landing = None;
            return Verdict::Reject;
        }
        let end_gas = trial.end[CHAMBER].lane(lane);
        let end_pa = self.model.pressure_in(lane, end_gas, trial.end[WARMTH].lane(lane));
        let end_headspace = self.model.headspace_in(lane, trial.end[HEADSPACE].lane(lane));
        let on_target = clock.stage == Stage::Evacuate && end_pa <= clock.target_pa;
        let same = clock.region == self.region(lane, end_pa, end_headspace);
        let clock = &mut self.clocks[lane];
        if same && !on_target && clock.landing.is_none() {
            if clock.last {
                return Verdict::StageEnd { on_target: false };
            }
            clock.step_s = next;
            return Verdict::Accept;
        }
        self.judge_events(lane, trial, end_pa, end_headspace, next)
    }

    /// The rarer part of [`Self::judge`]: the step meets an event, or was meant
    /// to end on one.
    #[inline(never)]
    fn judge_events(
        &mut self,
        lane: usize,
        trial: &Trial<V>,
        end_pa: f64,
        end_headspace: f64,
        next: f64,
    ) -> Verdict {
        let length = self.clocks[lane].trial_s;
        let dense = trial.dense(lane, &self.state, &self.rates, length);
        let pressure = |part: f64| {
            self.model.pressure_in(lane, dense.at(CHAMBER, part), dense.at(WARMTH, part))
        };
        let landing = self.clocks[lane].landing;
        // Where the step first meets an event, as a part of the step.
        let mut first = 1.0;
        let mut met = None;
        let pumping = self.clocks[lane].stage == Stage::Evacuate;
        let target = self.clocks[lane].target_pa;
        if pumping {
            if let Some(Landing::Target(attempts)) = landing {
                let miss = end_pa - target;
                if miss.abs() <= TARGET_TOLERANCE * target || attempts >= 6 {
                    return Verdict::StageEnd { on_target: true };
                }
                // Newton on the length of the step, slope at its end.
                let slope = (end_pa - pressure(1.0 - 1e-4)) / (1e-4 * length);
                let moved = length - miss / slope;
                if moved > 0.0 && moved < 2.0 * length {
                    self.clocks[lane].step_s = moved;
                    self.clocks[lane].landing = Some(Landing::Target(attempts + 1));
                    return Verdict::Reject;
                }
                return Verdict::StageEnd { on_target: true };
            }
            if end_pa <= target {
                first = crossing(|part| pressure(part) - target);
                met = Some(Landing::Target(0));
            }
        }
        let here = self.clocks[lane].region;
        if let Some(Landing::Kink(beyond, attempts)) = landing {
            let border = here.min(beyond);
            let start_gas = self.state[CHAMBER].lane(lane);
            let start_pa = self.model.pressure_in(lane, start_gas, self.state[WARMTH].lane(lane));
            let start_headspace = self.model.headspace_in(lane, self.state[HEADSPACE].lane(lane));
            let from = self.beyond(lane, border, start_pa, start_headspace);
            let miss = self.beyond(lane, border, end_pa, end_headspace);
            // The first estimate came from a step across the kink, which bends
            // it; steps up to the kink do not, so the secant closes in.
            let moved = length * (from / (from - miss));
            if miss.abs() > KINK_TOLERANCE * end_headspace
                && attempts < 6
                && moved > SHORTEST_STEP_S
                && moved < self.clocks[lane].resume_s
            {
                self.clocks[lane].step_s = moved;
                self.clocks[lane].landing = Some(Landing::Kink(beyond, attempts + 1));
                return Verdict::Reject;
            }
            self.clocks[lane].region = beyond;
            self.clocks[lane].landing = None;
            self.clocks[lane].step_s = self.clocks[lane].resume_s;
            return Verdict::Accept;
        }
        let there = self.region(lane, end_pa, end_headspace);
        if there != here {
            let (border, beyond) =
                if there > here { (here, here + 1) } else { (here - 1, here - 1) };
            let side = |part: f64| {
                let headspace = self.model.headspace_in(lane, dense.at(HEADSPACE, part));
                self.beyond(lane, border, pressure(part), headspace)
            };
            let part = if side(0.0) * side(1.0) < 0.0 { crossing(side) } else { 1.0 };
            if part < first {
                first = part;
                met = Some(Landing::Kink(beyond, 0));
            } else if met.is_none() {
                // On the border already: nothing to locate.
                self.clocks[lane].region = there;
            }
        }
        if let Some(landing) = met {
            let shorter = first * length;
            if shorter > SHORTEST_STEP_S && shorter < length {
                self.clocks[lane].resume_s = length;
                self.clocks[lane].step_s = shorter;
                self.clocks[lane].landing = Some(landing);
                return Verdict::Reject;
            }
            match landing {
                Landing::Target(_) => return Verdict::StageEnd { on_target: true },
                Landing::Kink(beyond, _) => self.clocks[lane].region = beyond,
            }
        }
        self.clocks[lane].landing = None;
        if self.clocks[lane].last {
            return Verdict::StageEnd { on_target: false };
        }
        self.clocks[lane].step_s = next;
        Verdict::Accept
    }

    #[inline(always)]
    fn accept(
        &mut self,
        lane: usize,
        trial: &Trial<V>,
        program: &Program<L::Lane>,
        ends_stage: bool,
    ) {
        let clock = &mut self.clocks[lane];
        let length = clock.trial_s;
        let end_s =
            if ends_stage && clock.last { clock.stage_end_s } else { clock.time_s + length };
        if self.want_trace && length > 0.0 {
            // A sample that falls on the end by rounding belongs to it.
            let last = ((end_s / program.interval_s) * (1.0 + 1e-14) + 1e-9) as usize;
            let from = clock.next_sample;
            if last >= from {
                let dense = trial.dense(lane, &self.state, &self.rates, length);
                let (start, per_length) = (clock.time_s, 1.0 / length);
                let scale = self.model.pressure_in(lane, 1.0, 1.0);
                let (interval, wall) = (program.interval_s, program.wall_k);
                let (start, per_length) = (Eight::splat(start), Eight::splat(per_length));
                let (interval, wall) = (Eight::splat(interval), Eight::splat(wall));
                let scale = Eight::splat(scale);
                let trace = &mut clock.trace;
                // Eight samples at a time; those beyond the step's end are
                // written again by the next step, and the surplus is cut off
                // when the cycle is over.
                let mut at = from;
                while at <= last {
                    if trace.pressures_pa.len() < at + 8 {
                        trace.pressures_pa.resize(at + 8, 0.0);
                        trace.temperatures_k.resize(at + 8, 0.0);
                    }
                    let first = at as f64;
                    let count = Eight(core::array::from_fn(|k| first + k as f64));
                    let part = (count * interval - start) * per_length;
                    let warmth = dense.at(WARMTH, part);
                    let pressure = dense.at(CHAMBER, part) * scale * warmth;
                    trace.pressures_pa[at..at + 8].copy_from_slice(&pressure.0);
                    trace.temperatures_k[at..at + 8].copy_from_slice(&(warmth * wall).0);
                    at += 8;
                }
                clock.next_sample = last + 1;
            }
        }
        clock.time_s = end_s;
        self.time.set_lane(lane, end_s);
        for i in 0..N {
            self.state[i].set_lane(lane, trial.end[i].lane(lane));
            self.rates[i].set_lane(lane, trial.end_rates[i].lane(lane));
        }
    }

    /// Moves on until a stage with a length begins; true at the end.
    fn next_stage(&mut self, lane: usize, program: &Program<L::Lane>, on_target: bool) -> bool {
        let mut on_target = on_target;
        loop {
            let mut state: [f64; N] = core::array::from_fn(|i| self.state[i].lane(lane));
            let model = &self.model;
            let over = self.clocks[lane].next_stage(program, &mut state, on_target, |s| Readings {
                chamber_pa: model.pressure_in(lane, s[CHAMBER], s[WARMTH]),
                headspace_pa: model.headspace_in(lane, s[HEADSPACE]),
                chamber_m3: model.chamber_m3(lane),
            });
            for (slot, value) in self.state.iter_mut().zip(state) {
                slot.set_lane(lane, value);
            }
            let clock = &mut self.clocks[lane];
            clock.landing = None;
            let pumping = clock.pumping();
            self.open.set_lane(lane, if pumping { 1.0 } else { 0.0 });
            if over {
                return true;
            }
            let (chamber_pa, headspace_pa) = self.pressures(lane);
            self.clocks[lane].region = self.region(lane, chamber_pa, headspace_pa);
            let clock = &self.clocks[lane];
            on_target = pumping && chamber_pa <= clock.target_pa;
            if !on_target && clock.stage_end_s > clock.time_s {
                return false;
            }
        }
    }
}

const fn verdict_end(verdict: &Verdict) -> bool {
    matches!(verdict, Verdict::StageEnd { .. })
}

/// How near a crossing is located within a step, as a part of it: the landing
/// that follows is corrected anyway.
const CROSSING_TOLERANCE: f64 = 1.0e-10;

/// Where a function changes sign between 0 and 1, by false position with the
/// kept end's value halved (Illinois); a touch beyond the root, so that the
/// far side is reached.
fn crossing(function: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    let (mut at_low, mut at_high) = (function(low), function(high));
    for _ in 0..60 {
        let gap = at_low - at_high;
        if gap == 0.0 {
            break;
        }
        let x = low + (high - low) * (at_low / gap);
        let value = function(x);
        if value == 0.0 || high - low < CROSSING_TOLERANCE {
            return x;
        }
        if (value > 0.0) == (at_low > 0.0) {
            // Converged from this side: the next estimate would repeat it.
            if x - low < CROSSING_TOLERANCE {
                return x;
            }
            low = x;
            at_low = value;
            at_high *= 0.5;
        } else {
            if high - x < CROSSING_TOLERANCE {
                return x;
            }
            high = x;
            at_high = value;
            at_low *= 0.5;
        }
    }
    high
}

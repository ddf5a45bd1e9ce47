//! Runs cycles in lanes, each with its own step length, stages and events.
//!
//! Lanes never exchange a number: what a lane computes does not depend on
//! its neighbours, so single runs and batches give the same digits.

use digits::lanes::Lanes;

use super::errors::CycleError;
use super::lane_clock::{LaneClock, Readings, SampleLanes};
use super::leak_lanes::LeakLanes;
use super::program::Program;
use super::rates::{CHAMBER, Contents, GasRates, HEADSPACE, N, WARMTH};
use super::simulate::CycleOutcome;
use super::stepping::{Trial, next_length_factor};

/// Most steps of one cycle before the solver gives up.
const MOST_STEPS: f64 = 2.0e6;
/// Steps shorter than this are taken as they are, s.
pub(super) const SHORTEST_STEP_S: f64 = 1.0e-11;

pub(super) type Answer = Result<CycleOutcome, CycleError>;

/// Runs all programs, in as many lanes as `V` has; answers in their order.
/// Samples of the traces are computed in `S`.
#[inline(always)]
pub(super) fn run<V: Lanes, L: LeakLanes<V>, S: SampleLanes>(
    programs: &[Program<L::Lane>],
    want_trace: bool,
) -> Vec<Answer> {
    let mut answers: Vec<Option<Answer>> = programs.iter().map(|_| None).collect();
    let mut lanes = Lockstep::<V, L>::new(want_trace);
    let mut next = 0;
    for lane in 0..V::WIDTH {
        lanes.load(lane, programs, &mut next);
    }
    lanes.rates = lanes.fresh_rates();
    while lanes.busy != 0 {
        lanes.advance::<S>(programs, &mut next, &mut answers);
    }
    answers.into_iter().map(|answer| answer.unwrap_or(Err(CycleError::NoTiers))).collect()
}

/// The lanes. What every step needs lies in rows of lanes; what only events
/// and stage ends need lies in the clocks.
pub(super) struct Lockstep<V, L> {
    pub model: GasRates<V, L>,
    pub state: [V; N],
    pub rates: [V; N],
    pub time: V,
    /// 1 in lanes whose pump valve is open, else 0.
    open: V,
    /// Length to try next, s; zero in idle lanes.
    pub step: V,
    stage_end: V,
    /// Pressure that ends pumping, Pa; below zero where the valve is closed.
    target: V,
    /// Which side of the law's kinks each lane is on; see [`regions`].
    pub region: V,
    /// 1 in lanes whose step is meant to end on a kink, else 0.
    pub landing: V,
    /// Pressure ratios of the kinks.
    kinks: [V; 2],
    /// Steps of each lane so far.
    steps: V,
    /// Lanes with work, one bit each.
    busy: u32,
    any_open: bool,
    pub clocks: Vec<LaneClock>,
    want_trace: bool,
}

/// What becomes of a trial step that meets an event.
pub(super) enum Verdict {
    Reject,
    Accept,
    /// Accepted, and the stage ends with it; on its target or by time.
    StageEnd {
        on_target: bool,
    },
}

/// A step under way, in one lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Attempt {
    pub lane: usize,
    pub length_s: f64,
    /// Length that the error control would take next, s.
    pub next_s: f64,
    /// It ends the stage by time.
    pub last: bool,
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
            step: zero,
            stage_end: zero,
            target: -one,
            region: zero,
            landing: zero,
            kinks: [V::splat(0.5); 2],
            steps: zero,
            busy: 0,
            any_open: false,
            clocks: (0..V::WIDTH).map(|_| LaneClock::idle()).collect(),
            want_trace,
        }
    }

    /// Puts the next waiting program into a lane, or idles it.
    #[inline(never)]
    fn load(&mut self, lane: usize, programs: &[Program<L::Lane>], next: &mut usize) {
        self.busy &= !(1 << lane);
        let Some(program) = programs.get(*next) else {
            self.clocks[lane].job = None;
            self.open.set_lane(lane, 0.0);
            self.step.set_lane(lane, 0.0);
            self.time.set_lane(lane, 0.0);
            self.stage_end.set_lane(lane, 0.0);
            self.target.set_lane(lane, -1.0);
            self.any_open = self.clocks.iter().any(LaneClock::pumping);
            return;
        };
        self.busy |= 1 << lane;
        self.model.load(lane, &program.constants, program.leak.as_ref());
        let [far, near] = self.model.leak.kinks(lane);
        self.kinks[0].set_lane(lane, far);
        self.kinks[1].set_lane(lane, near);
        self.clocks[lane].begin(*next, program, self.want_trace);
        *next += 1;
        self.time.set_lane(lane, 0.0);
        self.steps.set_lane(lane, 0.0);
        self.begin_stage(lane, program.start);
    }

    /// Takes a lane's stage from its clock; the state is given in the places
    /// of a closed chamber.
    fn begin_stage(&mut self, lane: usize, mut state: [f64; N]) {
        let clock = &self.clocks[lane];
        let pumping = clock.pumping();
        self.open.set_lane(lane, if pumping { 1.0 } else { 0.0 });
        self.target.set_lane(lane, if pumping { clock.target_pa } else { -1.0 });
        self.stage_end.set_lane(lane, clock.stage_end_s);
        self.landing.set_lane(lane, 0.0);
        if let Some(step_s) = clock.first_step_s {
            self.step.set_lane(lane, step_s);
        }
        [state[CHAMBER], state[WARMTH]] =
            Contents::closed(state[CHAMBER], state[WARMTH]).places(pumping);
        for (slot, value) in self.state.iter_mut().zip(state) {
            slot.set_lane(lane, value);
        }
        self.any_open = self.clocks.iter().any(LaneClock::pumping);
        let (chamber, headspace) = self.pressures_in(lane, &self.state);
        let region = self.region_in(lane, chamber, headspace);
        self.region.set_lane(lane, region);
    }

    #[inline(always)]
    fn fresh_rates(&self) -> [V; N] {
        self.model.rates(self.time, &self.state, self.open, self.any_open)
    }

    /// What the chamber holds in one lane, given the first two places.
    #[inline(always)]
    pub fn contents(&self, lane: usize, first: f64, second: f64) -> Contents<f64> {
        Contents::of(self.open.lane(lane) > 0.5, first, second)
    }

    /// Pressures of chamber and headspace, Pa.
    #[inline(always)]
    pub fn pressures(&self, state: &[V; N]) -> (V, V) {
        let mut held = state[WARMTH];
        if self.any_open {
            let pumping = Contents::pumping(state[CHAMBER], state[WARMTH]).pressure_volume;
            held = V::select(self.open.at_most(V::splat(0.5)), held, pumping);
        }
        self.model.pressures(held, state[HEADSPACE])
    }

    /// As [`Self::pressures`], in one lane.
    pub fn pressures_in(&self, lane: usize, state: &[V; N]) -> (f64, f64) {
        let held = self.contents(lane, state[CHAMBER].lane(lane), state[WARMTH].lane(lane));
        let headspace_pa = self.model.headspace_in(lane, state[HEADSPACE].lane(lane));
        (self.model.pressure_in(lane, held), headspace_pa)
    }

    /// The region of one lane; see [`regions`].
    pub fn region_in(&self, lane: usize, chamber_pa: f64, headspace_pa: f64) -> f64 {
        regions(self.kinks.map(|kink| kink.lane(lane)), chamber_pa, headspace_pa)
    }

    /// One trial step in every lane.
    #[inline(always)]
    fn advance<S: SampleLanes>(
        &mut self,
        programs: &[Program<L::Lane>],
        next: &mut usize,
        answers: &mut [Option<Answer>],
    ) {
        let half = V::splat(0.5);
        let left = self.stage_end - self.time;
        let free = self.landing.at_most(half);
        // A sliver left over by rounding joins the last step.
        let is_last = V::both(free, (left * V::splat(1.0 - 1e-9)).at_most(self.step));
        let length = V::select(is_last, left, self.step);
        let trial = Trial::attempt(
            &self.model,
            self.time,
            &self.state,
            &self.rates,
            length,
            self.open,
            self.any_open,
        );
        let is_good = trial.error.at_most(V::splat(1.0));
        let factor = next_length_factor(trial.error).larger(V::splat(0.2)).smaller(V::splat(5.0));
        let proposed = length * factor;
        let (end_chamber, end_headspace) = self.pressures(&trial.end);
        let end_region = regions(self.kinks, end_chamber, end_headspace);
        let moved = (end_region - self.region).abs();
        let is_plain = V::but_not(
            V::both(V::both(is_good, free), moved.at_most(half)),
            end_chamber.at_most(self.target),
        );
        self.steps = self.steps + V::splat(1.0);
        let is_plain = V::both(is_plain, self.steps.at_most(V::splat(MOST_STEPS)));
        let (good, plain) = (V::bits(is_good) & self.busy, V::bits(is_plain) & self.busy);
        let last = V::bits(is_last);
        let attempt = |lane: usize| Attempt {
            lane,
            length_s: length.lane(lane),
            next_s: proposed.lane(lane),
            last: last >> lane & 1 == 1,
        };

        // Lanes in which nothing special happens move on together.
        if self.want_trace {
            for lane in lanes_of(plain) {
                let at = attempt(lane);
                let end_s = self.end_of(&at, 1.0);
                self.sample::<S>(&trial, &at, end_s, &programs[self.clocks[lane].job.unwrap_or(0)]);
            }
        }
        for i in 0..N {
            self.state[i] = V::select(is_plain, trial.end[i], self.state[i]);
            self.rates[i] = V::select(is_plain, trial.end_rates[i], self.rates[i]);
        }
        let end_time = V::select(is_last, self.stage_end, self.time + length);
        self.time = V::select(is_plain, end_time, self.time);
        // A step cut short by the end of the stage says little of the next.
        self.step = V::select(V::but_not(is_plain, is_last), proposed, self.step);

        let mut restart = 0;
        for lane in lanes_of(plain & last) {
            restart |= 1 << lane;
            self.end_stage(lane, false, programs, next, answers);
        }
        for lane in lanes_of(self.busy & !plain & !restart) {
            let at = attempt(lane);
            if self.steps.lane(lane) > MOST_STEPS {
                let (steps, time_s) = (self.steps.lane(lane) as u32, self.time.lane(lane));
                if let Some(job) = self.clocks[lane].job {
                    answers[job] = Some(Err(CycleError::TooStiff { steps, time_s }));
                }
                self.load(lane, programs, next);
                restart |= 1 << lane;
                continue;
            }
            let was_good = good >> lane & 1 == 1;
            if !was_good && at.length_s > SHORTEST_STEP_S {
                // An error that is not a number gives the shortest step.
                self.step.set_lane(lane, at.next_s.min(0.9 * at.length_s));
                self.landing.set_lane(lane, 0.0);
                continue;
            }
            let verdict = self.judge(&trial, &at, end_chamber.lane(lane), end_headspace.lane(lane));
            if matches!(verdict, Verdict::Reject) {
                continue;
            }
            self.accept::<S>(&trial, &at, programs);
            if let Verdict::StageEnd { on_target } = verdict {
                restart |= 1 << lane;
                self.end_stage(lane, on_target, programs, next, answers);
            }
        }
        if restart != 0 {
            let fresh = self.fresh_rates();
            for (slot, value) in self.rates.iter_mut().zip(&fresh) {
                for lane in lanes_of(restart) {
                    slot.set_lane(lane, value.lane(lane));
                }
            }
        }
    }

    /// When a step ends of which a part counts, s.
    #[inline(always)]
    fn end_of(&self, at: &Attempt, part: f64) -> f64 {
        if at.last && part >= 1.0 {
            self.stage_end.lane(at.lane)
        } else {
            self.time.lane(at.lane) + part * at.length_s
        }
    }

    /// Writes the samples that fall into an accepted step.
    #[inline(always)]
    fn sample<S: SampleLanes>(
        &mut self,
        trial: &Trial<V>,
        at: &Attempt,
        end_s: f64,
        program: &Program<L::Lane>,
    ) {
        let lane = at.lane;
        if self.clocks[lane].due(end_s, program.interval_s) && at.length_s > 0.0 {
            let dense = trial.dense(lane, &self.state, &self.rates, at.length_s);
            let open = self.open.lane(lane) > 0.5;
            let per_chamber = self.model.per_chamber_in(lane);
            let span = [self.time.lane(lane), at.length_s];
            self.clocks[lane].sample::<_, S>(&dense, span, open, per_chamber, program);
        }
    }

    /// Takes over a step that met an event.
    #[inline(never)]
    fn accept<S: SampleLanes>(
        &mut self,
        trial: &Trial<V>,
        at: &Attempt,
        programs: &[Program<L::Lane>],
    ) {
        let lane = at.lane;
        let part = core::mem::replace(&mut self.clocks[lane].part, 1.0);
        let end_s = self.end_of(at, part);
        if self.want_trace
            && let Some(job) = self.clocks[lane].job
        {
            self.sample::<S>(trial, at, end_s, &programs[job]);
        }
        let mut end: [f64; N] = core::array::from_fn(|i| trial.end[i].lane(lane));
        if part < 1.0 {
            let dense = trial.dense(lane, &self.state, &self.rates, at.length_s);
            end = core::array::from_fn(|i| dense.at(i, part));
        }
        self.time.set_lane(lane, end_s);
        for (i, value) in end.into_iter().enumerate() {
            self.state[i].set_lane(lane, value);
            self.rates[i].set_lane(lane, trial.end_rates[i].lane(lane));
        }
    }

    /// Ends the stage of a lane and those without length behind it; after the
    /// last the lane takes the next program.
    #[inline(never)]
    fn end_stage(
        &mut self,
        lane: usize,
        on_target: bool,
        programs: &[Program<L::Lane>],
        next: &mut usize,
        answers: &mut [Option<Answer>],
    ) {
        let Some(job) = self.clocks[lane].job else { return };
        let program = &programs[job];
        let mut on_target = on_target;
        loop {
            let mut state: [f64; N] = core::array::from_fn(|i| self.state[i].lane(lane));
            let held = self.contents(lane, state[CHAMBER], state[WARMTH]);
            [state[CHAMBER], state[WARMTH]] = held.places(false);
            let model = &self.model;
            let time_s = self.time.lane(lane);
            let over = self.clocks[lane].next_stage(program, time_s, &mut state, on_target, |s| {
                Readings {
                    chamber_pa: s[WARMTH] * model.per_chamber_in(lane),
                    headspace_pa: model.headspace_in(lane, s[HEADSPACE]),
                    chamber_m3: model.chamber_m3(lane),
                }
            });
            if over {
                let headspace_pa = model.headspace_in(lane, state[HEADSPACE]);
                answers[job] = Some(self.clocks[lane].finish(headspace_pa));
                self.load(lane, programs, next);
                return;
            }
            self.begin_stage(lane, state);
            let clock = &self.clocks[lane];
            let chamber_pa = state[WARMTH] * self.model.per_chamber_in(lane);
            on_target = clock.pumping() && chamber_pa <= clock.target_pa;
            if !on_target && clock.stage_end_s > time_s {
                return;
            }
        }
    }
}

/// Which side of the kinks pairs of pressures lie on, from 0, chamber far
/// below headspace, to 4, headspace far below chamber: 2 is the middle, where
/// both are nearly equal.
#[inline(always)]
fn regions<V: Lanes>([far, near]: [V; 2], chamber: V, headspace: V) -> V {
    let (one, zero) = (V::splat(1.0), V::splat(0.0));
    let above_far = V::select(chamber.at_most(far * headspace), zero, one);
    let above_near = V::select(chamber.at_most(near * headspace), zero, one);
    let below_near = V::select(headspace.at_most(near * chamber), one, zero);
    let below_far = V::select(headspace.at_most(far * chamber), one, zero);
    (above_far + above_near) + (below_near + below_far)
}

/// The lanes whose bit is set.
#[inline(always)]
fn lanes_of(bits: u32) -> impl Iterator<Item = usize> {
    let mut rest = bits;
    core::iter::from_fn(move || {
        if rest == 0 {
            return None;
        }
        let lane = rest.trailing_zeros() as usize;
        rest &= rest - 1;
        Some(lane)
    })
}

//! Runs an extended cycle.

use digits::scalar::pow;

use super::super::balance::GasBalance;
use super::super::setup::CycleSetup;
use super::super::simulate::{RiseContributions, TierOutcome};
use super::super::{CycleError, setup::Tier};
use super::extras::CycleExtras;
use super::outcome::{ExtendedOutcome, ExtendedTier, RiseParts};
use super::rates::{
    EVAPORATED, ExtendedRates, HEADSPACE, POCKET, PUMPED, ROOM, SURFACE, State, TUBING, Valve,
    WARMTH,
};
use super::steps::Step;
use crate::quantities::{AbsolutePressure, PressureDifference};
use crate::roots::bracketed_root;
use crate::trace::{PressureTrace, Stage, StageSpan};

/// Most steps before the solver gives up.
const MOST_STEPS: u32 = 2_000_000;

/// Simulates a cycle with extras.
///
/// # Errors
/// A setup or extras without meaning, or equations too stiff for the step
/// limit.
///
/// ```
/// use physics::cycle::extended::{CycleExtras, simulate_with};
/// # use physics::cycle::*;
/// # use physics::gases::Gas;
/// # use physics::quantities::*;
/// # let setup = CycleSetup {
/// #     chamber: Chamber { free_volume: Volume::from_ml(60.0),
/// #         wall_temperature: Temperature::from_celsius(23.0),
/// #         thermal_recovery: Duration::from_s(0.3) },
/// #     pump: Pump { speed: Conductance::from_m3_per_s(2e-4),
/// #         line_molecular: Conductance::from_m3_per_s(5e-5),
/// #         line_viscous_m3_per_s_pa: 2e-8, ultimate: AbsolutePressure::from_pa(20.0) },
/// #     background: Background { one_over_t: 6e-4, one_over_t_offset: Duration::from_s(1.0),
/// #         constant: 0.0, virtual_leak: None },
/// #     headspace: Headspace { gas: Gas::Air, volume: Volume::from_ml(4.0),
/// #         pressure: AbsolutePressure::from_atm(1.0) },
/// #     leak: None, ambient: AbsolutePressure::from_atm(1.0),
/// #     tiers: vec![Tier { evacuate_to: AbsolutePressure::from_pa(100.0),
/// #         evacuate_limit: Duration::from_s(10.0), reach_limit: None,
/// #         settle: Duration::from_s(5.0), measure: Duration::from_s(10.0), rise_limit: None }],
/// #     sample_interval: Duration::from_s(0.02),
/// # };
/// let plain = simulate(&setup)?;
/// let extended = simulate_with(&setup, &CycleExtras::default())?;
/// let difference = plain.tiers[0].rise.pa() - extended.tiers[0].plain.rise.pa();
/// assert!(difference.abs() < 1e-5);
/// # Ok::<(), CycleError>(())
/// ```
pub fn simulate_with(
    setup: &CycleSetup,
    extras: &CycleExtras,
) -> Result<ExtendedOutcome, CycleError> {
    setup.check()?;
    extras.check()?;
    let model = ExtendedRates::new(setup, extras);
    let start = model.start(setup, extras);
    let mut run = Run {
        state: start,
        model,
        time_s: 0.0,
        step_s: 1.0e-3,
        steps: 0,
        next_sample: 0,
        interval_s: setup.sample_interval.s(),
        trace: PressureTrace::default(),
    };
    let mut tiers = Vec::with_capacity(setup.tiers.len());
    for (index, tier) in setup.tiers.iter().enumerate() {
        let number = u16::try_from(index + 1).unwrap_or(u16::MAX);
        let outcome = run.tier(tier, number, extras)?;
        tiers.push(outcome);
        if outcome.plain.stopped_early {
            break;
        }
    }
    if extras.vent.s() > 0.0 {
        let started_s = run.time_s;
        run.advance(started_s + extras.vent.s(), Valve::Vent, None)?;
        run.note_stage(Stage::Vent, u16::try_from(tiers.len()).unwrap_or(u16::MAX), started_s);
    }
    let stored = |time_s: f64, state: &State| {
        digits::sums::sum([
            run.model.gas(time_s, state),
            state[HEADSPACE],
            state[POCKET],
            state[TUBING],
        ])
    };
    let balance = GasBalance {
        start: stored(0.0, &start),
        end: stored(run.time_s, &run.state),
        gained: digits::sums::sum([
            run.model.outgassed(run.time_s),
            run.state[EVAPORATED],
            run.state[ROOM],
        ]),
        pumped: run.state[PUMPED],
    };
    Ok(ExtendedOutcome {
        headspace_end: run.headspace(),
        vapour_end: AbsolutePressure::from_pa(run.model.vapour_pressure(&run.state)),
        surface_end_k: run.state[SURFACE] * run.model.wall_k,
        trace: run.trace,
        tiers,
        balance,
    })
}

struct Run {
    model: ExtendedRates,
    state: State,
    time_s: f64,
    step_s: f64,
    steps: u32,
    next_sample: u64,
    interval_s: f64,
    trace: PressureTrace,
}

impl Run {
    fn pressure(&self) -> f64 {
        self.model.pressure(self.time_s, &self.state)
    }

    fn headspace(&self) -> AbsolutePressure {
        AbsolutePressure::from_pa(self.model.headspace_pressure(self.time_s, &self.state))
    }

    fn note_stage(&mut self, stage: Stage, tier: u16, start_s: f64) {
        self.trace.stages.push(StageSpan { stage, tier, start_s, end_s: self.time_s });
    }

    fn tier(
        &mut self,
        tier: &Tier,
        number: u16,
        extras: &CycleExtras,
    ) -> Result<ExtendedTier, CycleError> {
        let pa = AbsolutePressure::from_pa;
        let started_s = self.time_s;
        let target = tier.evacuate_to.pa();
        let reached = self.pressure() <= target
            || self.advance(started_s + tier.evacuate_limit.s(), Valve::Open, Some(target))?;
        let evacuate_end_s = self.time_s;
        self.note_stage(Stage::Evacuate, number, started_s);
        let pumped_to = self.pressure();
        if tier.reach_limit.is_some_and(|limit| pumped_to > limit.pa()) {
            return Ok(ExtendedTier {
                plain: TierOutcome {
                    reached_target: false,
                    evacuate_end_s,
                    pressure_at_settle_end: pa(pumped_to),
                    pressure_at_measure_end: pa(pumped_to),
                    rise: PressureDifference::from_pa(0.0),
                    headspace_at_measure_start: self.headspace(),
                    contributions: RiseContributions::default(),
                    stopped_early: true,
                },
                parts: RiseParts::default(),
            });
        }
        let closing = extras.valve_closing.s();
        let settled_s = evacuate_end_s + tier.settle.s();
        let closed_s = (evacuate_end_s + closing).min(settled_s + tier.measure.s());
        if closing > 0.0 {
            self.advance(closed_s.min(settled_s), Valve::Closing(evacuate_end_s), None)?;
        }
        self.advance(settled_s, Valve::Closed, None)?;
        self.note_stage(Stage::Settle, number, evacuate_end_s);

        let (before_s, before) = (self.time_s, self.state);
        let (from_pa, headspace) = (self.pressure(), self.headspace());
        if closed_s > settled_s {
            self.advance(closed_s, Valve::Closing(evacuate_end_s), None)?;
        }
        self.advance(settled_s + tier.measure.s(), Valve::Closed, None)?;
        self.note_stage(Stage::Measure, number, before_s);
        let rise = PressureDifference::from_pa(self.pressure() - from_pa);
        let parts = self.parts(before_s, &before);
        Ok(ExtendedTier {
            plain: TierOutcome {
                reached_target: reached,
                evacuate_end_s,
                pressure_at_settle_end: pa(from_pa),
                pressure_at_measure_end: pa(self.pressure()),
                rise,
                headspace_at_measure_start: headspace,
                contributions: RiseContributions {
                    leak_pa: parts.leak_pa,
                    outgassing_pa: parts.outgassing_pa,
                    virtual_leak_pa: parts.virtual_leak_pa,
                    thermal_pa: parts.thermal_pa,
                },
                stopped_early: tier.rise_limit.is_some_and(|limit| rise.pa() > limit.pa()),
            },
            parts,
        })
    }

    fn parts(&self, before_s: f64, before: &State) -> RiseParts {
        let volume = self.model.free_m3(before);
        let now = &self.state;
        let gained = |place: usize| (now[place] - before[place]) / volume;
        let (gas_now, gas_before) =
            (self.model.gas(self.time_s, now), self.model.gas(before_s, before));
        let outgassed = self.model.outgassed(self.time_s) - self.model.outgassed(before_s);
        RiseParts {
            leak_pa: -gained(HEADSPACE),
            outgassing_pa: outgassed / volume,
            virtual_leak_pa: -gained(POCKET),
            tubing_pa: -gained(TUBING),
            room_leak_pa: gained(ROOM),
            vapour_pa: gained(EVAPORATED),
            valve_pa: -gained(PUMPED),
            thermal_pa: (gas_now * (now[WARMTH] - 1.0) - gas_before * (before[WARMTH] - 1.0))
                / volume,
            container_pa: gas_now * now[WARMTH] * (1.0 / self.model.free_m3(now) - 1.0 / volume),
        }
    }

    /// Steps to a time, or to a pressure on the way; true where that was met.
    fn advance(
        &mut self,
        end_s: f64,
        valve: Valve,
        target_pa: Option<f64>,
    ) -> Result<bool, CycleError> {
        self.step_s = self.step_s.min(1.0e-3);
        let mut rates = self.model.rates(self.time_s, &self.state, valve);
        while self.time_s < end_s {
            if self.steps >= MOST_STEPS {
                return Err(CycleError::TooStiff { steps: self.steps, time_s: self.time_s });
            }
            self.steps += 1;
            let left = end_s - self.time_s;
            let last = self.step_s >= left * (1.0 - 1e-9);
            let length = if last { left } else { self.step_s };
            let attempt = |length: f64| {
                Step::attempt(&self.model, self.time_s, &self.state, &rates, length, valve)
            };
            let mut step = attempt(length);
            let factor = if step.error.is_finite() {
                (0.9 * pow(step.error.max(1e-10), -0.2)).clamp(0.2, 5.0)
            } else {
                0.2
            };
            let good = step.error <= 1.0;
            if !good && length > 1.0e-11 {
                self.step_s = length * factor.min(0.9);
                continue;
            }
            let mut reached = false;
            if let Some(target) = target_pa
                && self.model.pressure(self.time_s + length, &step.end) <= target
            {
                reached = true;
                // The step is shortened to end on the event itself.
                let exact = bracketed_root(
                    |length| {
                        if length <= 0.0 {
                            return self.pressure() - target;
                        }
                        self.model.pressure(self.time_s + length, &attempt(length).end) - target
                    },
                    0.0,
                    length,
                );
                if let Some(exact) = exact.filter(|&exact| exact > 0.0) {
                    step = attempt(exact);
                }
            }
            let step_end = if last && !reached { end_s } else { self.time_s + step.length_s };
            self.sample(&step, step_end);
            self.state = step.end;
            rates = step.end_rates;
            self.time_s = step_end;
            if reached {
                return Ok(true);
            }
            if !last {
                self.step_s = length * factor;
            }
        }
        Ok(false)
    }

    fn sample(&mut self, step: &Step, end_s: f64) {
        loop {
            let time_s = self.next_sample as f64 * self.interval_s;
            // A sample that falls on the end by rounding belongs to it.
            if time_s > end_s + 1e-9 * self.interval_s {
                return;
            }
            let state = step.at(time_s);
            self.trace.times_s.push(time_s);
            self.trace.pressures_pa.push(self.model.pressure(time_s, &state));
            self.trace.temperatures_k.push(state[WARMTH] * self.model.wall_k);
            self.next_sample += 1;
        }
    }
}

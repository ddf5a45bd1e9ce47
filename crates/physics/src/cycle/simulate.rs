//! Runs a cycle and keeps its ledger.

use digits::scalar::pow;

use super::model::{HEADSPACE, Model, POCKET, State, TEMPERATURE};
use super::stepping::Step;
use super::{CycleError, CycleSetup};
use crate::quantities::{AbsolutePressure, PressureDifference};
use crate::roots::bracketed_root;
use crate::trace::{PressureTrace, Stage, StageSpan};

/// What contributed what to the rise of a measuring stage, Pa.
///
/// Gas that came in counts at wall temperature, `Δn R T_w/V`; what remains is
/// the change of gas temperature. The parts sum to the rise.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RiseContributions {
    /// Gas from the container.
    pub leak_pa: f64,
    /// Gas from walls and seals.
    pub outgassing_pa: f64,
    /// Gas from the pocket.
    pub virtual_leak_pa: f64,
    /// Warming of the chamber's gas.
    pub thermal_pa: f64,
}

impl RiseContributions {
    /// Sum of the parts, Pa.
    #[must_use]
    pub fn total_pa(&self) -> f64 {
        digits::sums::sum([self.leak_pa, self.outgassing_pa, self.virtual_leak_pa, self.thermal_pa])
    }
}

/// What one tier gave.
///
/// Where the reach limit was missed, settling and measuring did not happen:
/// both pressures are then that at the end of pumping and the rise is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TierOutcome {
    /// Pumping reached its pressure, and the reach limit where there is one.
    pub reached_target: bool,
    /// When pumping stopped, seconds from the start of the cycle.
    pub evacuate_end_s: f64,
    /// Chamber pressure where measuring begins.
    pub pressure_at_settle_end: AbsolutePressure,
    /// Chamber pressure where measuring ends.
    pub pressure_at_measure_end: AbsolutePressure,
    /// Their difference.
    pub rise: PressureDifference,
    /// Headspace pressure where measuring begins.
    pub headspace_at_measure_start: AbsolutePressure,
    /// What the rise is made of.
    pub contributions: RiseContributions,
    /// A limit of this tier failed, and the cycle ended with it.
    pub stopped_early: bool,
}

/// Result of a simulated cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleOutcome {
    /// Chamber pressure and gas temperature without noise, with the stages.
    pub trace: PressureTrace,
    /// The tiers that ran.
    pub tiers: Vec<TierOutcome>,
    /// Headspace pressure at the end.
    pub headspace_end: AbsolutePressure,
}

/// Most steps before the solver gives up.
const MOST_STEPS: u32 = 2_000_000;

/// Simulates a cycle.
///
/// A tier ends its evacuation at `evacuate_to` (located as an event) or at
/// `evacuate_limit`. A missed reach limit, or a rise above the rise limit, ends
/// the cycle with that tier; later tiers are then absent.
///
/// # Errors
/// A setup without meaning, or equations too stiff for the step limit.
pub fn simulate(setup: &CycleSetup) -> Result<CycleOutcome, CycleError> {
    setup.check()?;
    let model = Model::new(setup);
    let mut run = Run {
        state: model.start(setup),
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
        let started_s = run.time_s;
        let target_pa = tier.evacuate_to.pa();
        let reached = run.pump_until(started_s + tier.evacuate_limit.s(), target_pa)?;
        let evacuate_end_s = run.time_s;
        run.note_stage(Stage::Evacuate, number, started_s);
        let pumped_to = run.pressure();
        let within = tier.reach_limit.is_none_or(|limit| pumped_to <= limit.pa());
        if !within {
            tiers.push(TierOutcome {
                reached_target: false,
                evacuate_end_s,
                pressure_at_settle_end: AbsolutePressure::from_pa(pumped_to),
                pressure_at_measure_end: AbsolutePressure::from_pa(pumped_to),
                rise: PressureDifference::from_pa(0.0),
                headspace_at_measure_start: run.headspace(),
                contributions: RiseContributions::default(),
                stopped_early: true,
            });
            break;
        }
        run.rest_until(evacuate_end_s + tier.settle.s())?;
        run.note_stage(Stage::Settle, number, evacuate_end_s);
        let (measure_start_s, before) = (run.time_s, run.state);
        let (pressure_before, headspace_before) = (run.pressure(), run.headspace());
        run.rest_until(measure_start_s + tier.measure.s())?;
        run.note_stage(Stage::Measure, number, measure_start_s);
        let pressure_after = run.pressure();
        let rise_pa = pressure_after - pressure_before;
        let failed = tier.rise_limit.is_some_and(|limit| rise_pa > limit.pa());
        tiers.push(TierOutcome {
            reached_target: reached,
            evacuate_end_s,
            pressure_at_settle_end: AbsolutePressure::from_pa(pressure_before),
            pressure_at_measure_end: AbsolutePressure::from_pa(pressure_after),
            rise: PressureDifference::from_pa(rise_pa),
            headspace_at_measure_start: headspace_before,
            contributions: run.contributions(measure_start_s, &before),
            stopped_early: failed,
        });
        if failed {
            break;
        }
    }
    let headspace_end = run.headspace();
    Ok(CycleOutcome { trace: run.trace, tiers, headspace_end })
}

struct Run {
    model: Model,
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
        self.model.chamber_pressure(self.time_s, &self.state)
    }

    fn headspace(&self) -> AbsolutePressure {
        AbsolutePressure::from_pa(self.model.headspace_pressure(&self.state))
    }

    fn note_stage(&mut self, stage: Stage, tier: u16, start_s: f64) {
        self.trace.stages.push(StageSpan { stage, tier, start_s, end_s: self.time_s });
    }

    /// Pumps until a pressure or a time; true where the pressure was reached.
    fn pump_until(&mut self, end_s: f64, target_pa: f64) -> Result<bool, CycleError> {
        if self.pressure() <= target_pa {
            return Ok(true);
        }
        self.advance(end_s, true, Some(target_pa))
    }

    /// Leaves the chamber closed until a time.
    fn rest_until(&mut self, end_s: f64) -> Result<(), CycleError> {
        self.advance(end_s, false, None).map(|_| ())
    }

    fn advance(
        &mut self,
        end_s: f64,
        pump_open: bool,
        target_pa: Option<f64>,
    ) -> Result<bool, CycleError> {
        // The valve moved: the rate jumps, so the step starts small again.
        self.step_s = self.step_s.min(1.0e-3).min((end_s - self.time_s).max(1.0e-9));
        let mut rate = self.model.rates(self.time_s, &self.state, pump_open);
        while self.time_s < end_s {
            if self.steps >= MOST_STEPS {
                return Err(CycleError::TooStiff { steps: self.steps, time_s: self.time_s });
            }
            self.steps += 1;
            let left = end_s - self.time_s;
            let last = self.step_s >= left * (1.0 - 1e-12);
            let length = if last { left } else { self.step_s };
            let try_step = |length: f64| {
                Step::attempt(&self.model, self.time_s, &self.state, &rate, length, pump_open)
            };
            let mut step = try_step(length);
            let factor = if step.error > 0.0 && step.error.is_finite() {
                (0.9 * pow(step.error, -0.2)).clamp(0.2, 5.0)
            } else if step.error == 0.0 {
                5.0
            } else {
                0.2
            };
            let good = step.error <= 1.0;
            if !good && length > 1.0e-12 {
                self.step_s = length * factor.min(0.9);
                continue;
            }
            let mut reached = false;
            if let Some(target) = target_pa {
                let at_end = self.model.chamber_pressure(step.end_s(), &step.end);
                if at_end <= target {
                    reached = true;
                    // The step itself is shortened to end on the event: the
                    // end state is then a full step and not an interpolation.
                    let exact = bracketed_root(
                        |length| {
                            if length <= 0.0 {
                                return self.pressure() - target;
                            }
                            let part = try_step(length);
                            self.model.chamber_pressure(part.end_s(), &part.end) - target
                        },
                        0.0,
                        length,
                    );
                    if let Some(exact) = exact.filter(|&exact| exact > 0.0) {
                        step = try_step(exact);
                    }
                }
            }
            let step_end = if last && !reached { end_s } else { step.end_s() };
            self.sample(&step, step_end);
            self.state = step.end;
            rate = *step.last_rate();
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
            self.trace.pressures_pa.push(self.model.chamber_pressure(time_s, &state));
            self.trace.temperatures_k.push(state[TEMPERATURE]);
            self.next_sample += 1;
        }
    }

    fn contributions(&self, start_s: f64, before: &State) -> RiseContributions {
        let volume = self.model.chamber_m3();
        let outgassed = self.model.outgassed(self.time_s) - self.model.outgassed(start_s);
        let warming = |time_s: f64, state: &State| {
            let at_wall = State::clone(state);
            let cold = self.model.chamber_pressure(time_s, state);
            let mut wall = at_wall;
            wall[TEMPERATURE] = self.model.wall_k();
            cold - self.model.chamber_pressure(time_s, &wall)
        };
        RiseContributions {
            leak_pa: (before[HEADSPACE] - self.state[HEADSPACE]) / volume,
            outgassing_pa: outgassed / volume,
            virtual_leak_pa: (before[POCKET] - self.state[POCKET]) / volume,
            thermal_pa: warming(self.time_s, &self.state) - warming(start_s, before),
        }
    }
}

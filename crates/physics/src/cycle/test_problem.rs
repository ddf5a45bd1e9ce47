//! A fixed test problem for the solver: a lumped cycle with a classical leak
//! blend, for which independent solutions exist.
//!
//! Throughputs in Pa·m³/s; gas enters the chamber at wall temperature;
//! headspace and pocket stay at it. The leak is a choked or subsonic orifice
//! (`q_visc`, linear to zero above a pressure ratio of 0.999) and free-molecular
//! efflux (`q_mol`), weighted by the Knudsen number at the upstream pressure:
//! `(q_visc + Kn q_mol)/(1 + Kn)`. This blend is a benchmark, not the
//! recommended law.

use digits::scalar::pow;

use super::leak_lanes::{BlendConstants, Blends};
use super::program::{MeasureEnd, Program, TierPlan};
use super::rates::LaneConstants;
pub use super::wide::Registers;
use super::wide::{run_alone, run_in_lanes, run_on};
use super::{CycleError, CycleOutcome};

/// Parameters of the test problem, SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestProblem {
    /// Chamber volume.
    pub chamber_m3: f64,
    /// Headspace volume.
    pub headspace_m3: f64,
    /// Pocket volume.
    pub pocket_m3: f64,
    /// Bore of the hole; zero is tight.
    pub bore_m: f64,
    /// Discharge coefficient.
    pub discharge_coefficient: f64,
    /// Wall temperature.
    pub wall_k: f64,
    /// Thermal recovery.
    pub recovery_s: f64,
    /// Pump speed.
    pub pump_m3_per_s: f64,
    /// Molecular conductance of the line.
    pub line_m3_per_s: f64,
    /// Viscous conductance of the line per pressure.
    pub line_m3_per_s_pa: f64,
    /// Ultimate pressure of the pump.
    pub ultimate_pa: f64,
    /// Pressure that ends the evacuation.
    pub target_pa: f64,
    /// Longest evacuation.
    pub evacuate_limit_s: f64,
    /// Settling time.
    pub settle_s: f64,
    /// Time of the cycle at which measuring ends.
    pub end_s: f64,
    /// Conductance to the pocket.
    pub pocket_m3_per_s: f64,
    /// Strength of the 1/t outgassing, Pa·m³.
    pub one_over_t: f64,
    /// Offset of the 1/t outgassing.
    pub one_over_t_offset_s: f64,
    /// Heat-capacity ratio.
    pub gamma: f64,
    /// Specific gas constant, J/(kg K).
    pub specific_gas_constant: f64,
    /// Viscosity.
    pub viscosity_pa_s: f64,
    /// Room pressure.
    pub room_pa: f64,
    /// Time between samples.
    pub interval_s: f64,
}

impl TestProblem {
    /// The problem's own round numbers with a hole of the given bore; they
    /// were made for the benchmark and describe no apparatus.
    #[must_use]
    pub const fn with_bore_m(bore_m: f64) -> Self {
        Self {
            chamber_m3: 6e-5,
            headspace_m3: 4e-6,
            pocket_m3: 2e-8,
            bore_m,
            discharge_coefficient: 0.8,
            wall_k: 296.15,
            recovery_s: 0.3,
            pump_m3_per_s: 2e-4,
            line_m3_per_s: 5e-5,
            line_m3_per_s_pa: 2e-8,
            ultimate_pa: 20.0,
            target_pa: 100.0,
            evacuate_limit_s: 10.0,
            settle_s: 5.0,
            end_s: 30.0,
            pocket_m3_per_s: 2e-9,
            one_over_t: 6e-4,
            one_over_t_offset_s: 1.0,
            gamma: 1.4,
            specific_gas_constant: 287.05,
            viscosity_pa_s: 1.83e-5,
            room_pa: 101_325.0,
            interval_s: 0.02,
        }
    }

    fn program(&self) -> Program<BlendConstants> {
        let g = self.gamma;
        let rt = self.specific_gas_constant * self.wall_k;
        let pi = core::f64::consts::PI;
        let area = pi * self.bore_m * self.bore_m / 4.0;
        let leak = (area > 0.0).then(|| BlendConstants {
            critical_ratio: pow(2.0 / (g + 1.0), g / (g - 1.0)),
            choked: self.discharge_coefficient
                * area
                * (g * rt).sqrt()
                * pow(2.0 / (g + 1.0), (g + 1.0) / (2.0 * (g - 1.0))),
            subsonic: self.discharge_coefficient * area * (2.0 * g / (g - 1.0) * rt).sqrt(),
            molecular: area / 4.0 * (8.0 * rt / pi).sqrt(),
            knudsen_pa: self.viscosity_pa_s * (pi * rt / 2.0).sqrt() / self.bore_m,
            gamma: g,
        });
        let constants = LaneConstants {
            chamber_m3: self.chamber_m3,
            headspace_m3: self.headspace_m3,
            pocket_m3: self.pocket_m3,
            pocket_m3_per_s: self.pocket_m3_per_s,
            recovery_per_s: 1.0 / self.recovery_s,
            pump_m3_per_s: self.pump_m3_per_s,
            line_m3_per_s: self.line_m3_per_s,
            line_m3_per_s_pa: self.line_m3_per_s_pa,
            ultimate_pa: self.ultimate_pa,
            one_over_t: self.one_over_t,
            one_over_t_offset_s: self.one_over_t_offset_s,
            constant: 0.0,
        };
        Program {
            constants,
            leak,
            start: [
                self.room_pa * self.chamber_m3,
                self.room_pa * self.chamber_m3,
                self.room_pa * self.headspace_m3,
                self.room_pa * self.pocket_m3,
            ],
            tiers: vec![TierPlan {
                target_pa: self.target_pa,
                evacuate_limit_s: self.evacuate_limit_s,
                reach_limit_pa: None,
                settle_s: self.settle_s,
                measure: MeasureEnd::At(self.end_s),
                rise_limit_pa: None,
            }],
            interval_s: self.interval_s,
            wall_k: self.wall_k,
        }
    }
}

/// Solves one problem, one lane.
///
/// # Errors
/// Equations too stiff for the step limit.
pub fn solve(problem: &TestProblem) -> Result<CycleOutcome, CycleError> {
    run_alone::<Blends>(problem.program()).into_iter().next().unwrap_or(Err(CycleError::NoTiers))
}

/// Solves many problems in eight lanes, with traces or with the tiers only;
/// answers in their order, with the digits of [`solve`].
#[must_use]
pub fn solve_batch(
    problems: &[TestProblem],
    want_trace: bool,
) -> Vec<Result<CycleOutcome, CycleError>> {
    let programs = problems.iter().map(TestProblem::program).collect();
    run_in_lanes::<Blends>(programs, want_trace)
}

/// As [`solve_batch`], on registers of one kind, to compare digits and speed;
/// nothing where the processor does not have them.
#[must_use]
pub fn solve_batch_on(
    registers: Registers,
    problems: &[TestProblem],
    want_trace: bool,
) -> Option<Vec<Result<CycleOutcome, CycleError>>> {
    let programs = problems.iter().map(TestProblem::program).collect();
    run_on::<Blends>(registers, programs, want_trace)
}

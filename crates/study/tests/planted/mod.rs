//! Simulated traces with a planted cause, from a generator that shares
//! nothing with the fitting model: the gas balance of `physics::cycle`,
//! leaks by the law for all regimes, outgassing by 1/t, by diffusion or from a
//! part that runs empty, a film of water that cools itself, noise on two time
//! scales, steps of the gauge, a lagging thermometer, and figures of the
//! circumstances that are off by a few percent. All of it is invented.
#![allow(dead_code)] // The example and the tests use different parts.

use digits::RandomStream;
use physics::container::FlexibleWall;
use physics::cycle::extended::{CycleExtras, ExtendedOutcome, Moisture, WallDrift, simulate_with};
use physics::cycle::{Background, Chamber, CycleSetup, Headspace, Pump, Tier};
use physics::gases::Gas;
use physics::liquids::Liquid;
use physics::outgassing::OutgassingLaw;
use physics::quantities::{
    AbsolutePressure, Area, Conductance, Duration, Length, PressureRate, Temperature, Volume,
};
use physics::trace::PressureTrace;
use study::forecast::LeakSize;
use study::forensics::{Cause, Circumstances, HeadspaceState, RiseSpan};

/// What is planted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    Tight,
    Leak,
    EmptyingLeak,
    LeakAndOutgassing,
    Outgassing,
    Vapour,
    Thermal,
    Creep,
    Step,
    DriftDown,
    DriftUp,
    FullScale,
    Emptied,
}

pub const KINDS: [Kind; 13] = [
    Kind::Tight,
    Kind::Leak,
    Kind::EmptyingLeak,
    Kind::LeakAndOutgassing,
    Kind::Outgassing,
    Kind::Vapour,
    Kind::Thermal,
    Kind::Creep,
    Kind::Step,
    Kind::DriftDown,
    Kind::DriftUp,
    Kind::FullScale,
    Kind::Emptied,
];

/// A trace and the truth behind it.
pub struct Planted {
    pub kind: Kind,
    pub trace: PressureTrace,
    pub span: RiseSpan,
    pub about: Circumstances,
    /// The cause with the largest part of the rise; `None` where no part
    /// stands out of the noise.
    pub principal: Option<Cause>,
    /// Mean rate of the leak over the measure stage, Pa/s.
    pub leak_pa_per_s: f64,
    /// Size of the leak, µm flow-equivalent; 0 without one.
    pub leak_um: f64,
    /// Standard deviation of the noise, Pa.
    pub noise_pa: f64,
    /// The circumstances are stated without error.
    pub exact: bool,
}

/// Uniform in the logarithm.
fn between(stream: &mut RandomStream, low: f64, high: f64) -> f64 {
    digits::scalar::exp(digits::scalar::ln(low) + stream.uniform() * digits::scalar::ln(high / low))
}

/// Noise on two time scales: what is new at every sample, and a part that is
/// averaged over a handful of samples.
struct Noise {
    slow: [f64; 5],
    next: usize,
}

impl Noise {
    fn draw(&mut self, stream: &mut RandomStream, sd: f64, slow_share: f64) -> f64 {
        self.slow[self.next % 5] = stream.normal();
        self.next += 1;
        let slow: f64 = self.slow.iter().sum::<f64>() / 5.0_f64.sqrt();
        sd * ((1.0 - slow_share).sqrt() * stream.normal() + slow_share.sqrt() * slow)
    }
}

/// One trace; the same seed and unit give the same one.
pub fn planted(kind: Kind, seed: u64, unit: u64) -> Planted {
    let mut stream = RandomStream::new(seed, unit);
    let s = &mut stream;
    let free_ml = between(s, 12.0, 60.0);
    let headspace_ml = between(s, 2.0, 6.0);
    let headspace_pa = between(s, 3.0e4, 1.0e5);
    let wall_c = 18.0 + 8.0 * s.uniform();
    let settle_s = 2.0 + 3.0 * s.uniform();
    let measure_s = 8.0 + 12.0 * s.uniform();
    let interval_s = if s.uniform() < 0.5 { 0.05 } else { 0.1 };
    let noise_pa = between(s, 0.2, 1.0);
    let resolution_pa = between(s, 0.05, 0.2);
    let slow_share = 0.4 * s.uniform();
    let mut background = Background {
        one_over_t: free_ml * between(s, 1.0e-7, 3.0e-7),
        one_over_t_offset: Duration::from_s(1.0),
        constant: 0.0,
        virtual_leak: None,
    };
    let mut extras = CycleExtras::default();
    let mut recovery_s = between(s, 0.05, 0.3);
    let mut leak_um = 0.0;
    let mut warm_channel = s.uniform() < 0.3;
    let mut step_pa = 0.0;
    let mut drift_pa_per_s = 0.0;
    let mut range_pa = 1.3e5;
    let outgas = |s: &mut RandomStream, background: &mut Background, extras: &mut CycleExtras| {
        // Rises of 5 to 200 Pa in the measure stage, by three laws.
        let rise_pa_m3 = free_ml * 1e-6 * between(s, 5.0, 200.0);
        match s.below(3) {
            0 => background.one_over_t += rise_pa_m3 / 0.9,
            1 => extras.outgassing.push(OutgassingLaw::OneOverRootTime {
                amount_pa_m3_per_root_s: rise_pa_m3 / 3.0,
                offset: Duration::from_s(between(s, 0.1, 2.0)),
            }),
            _ => {
                let tau = between(s, 6.0, 20.0);
                extras.outgassing.push(OutgassingLaw::Exponential {
                    initial_throughput_pa_m3_per_s: rise_pa_m3 * 2.0 / tau,
                    time_constant: Duration::from_s(tau),
                });
            }
        }
    };
    match kind {
        Kind::Tight => {}
        Kind::Leak => leak_um = between(s, 1.0, 6.0),
        Kind::EmptyingLeak => leak_um = between(s, 15.0, 40.0),
        Kind::LeakAndOutgassing => {
            leak_um = between(s, 1.0, 6.0);
            outgas(s, &mut background, &mut extras);
        }
        Kind::Outgassing => outgas(s, &mut background, &mut extras),
        Kind::Vapour => {
            extras.moisture = Some(Moisture {
                liquid: Liquid::Water,
                mass_kg: between(s, 2e-6, 2e-5),
                surface: Area::from_m2(between(s, 3e-6, 3e-5)),
                heat_exchange_w_per_k: between(s, 0.02, 0.2),
                evaporation_coefficient: between(s, 0.0005, 0.005),
            });
        }
        Kind::Thermal => {
            if s.uniform() < 0.5 {
                recovery_s = between(s, 1.0, 3.0);
            } else {
                warm_channel = true;
                let by = (5.0 + 10.0 * s.uniform()) * if s.uniform() < 0.5 { 1.0 } else { -1.0 };
                extras.wall_drift = Some(WallDrift {
                    towards: Temperature::from_celsius(wall_c + by),
                    time_constant: Duration::from_s(between(s, 4.0, 15.0)),
                });
            }
        }
        Kind::Creep => {
            extras.flexible_wall = Some(FlexibleWall {
                compliance_m3_per_pa: free_ml * 1e-6 * between(s, 0.05, 0.15) / headspace_pa,
                creep_share: between(s, 0.3, 1.5),
                creep_time: Duration::from_s(between(s, 4.0, 20.0)),
            });
        }
        Kind::Step => step_pa = between(s, 3.0, 40.0) * if s.uniform() < 0.7 { 1.0 } else { -1.0 },
        Kind::DriftDown => drift_pa_per_s = -between(s, 0.2, 3.0),
        Kind::DriftUp => drift_pa_per_s = between(s, 0.2, 3.0),
        Kind::FullScale => {
            leak_um = between(s, 10.0, 30.0);
            range_pa = between(s, 200.0, 600.0);
        }
        Kind::Emptied => leak_um = between(s, 90.0, 250.0),
    }
    let leak = (leak_um > 0.0).then(|| {
        LeakSize::from_flow_equivalent(Length::from_um(leak_um))
            .expect("a size within range")
            .as_orifice()
    });
    let setup = CycleSetup {
        chamber: Chamber {
            free_volume: Volume::from_ml(free_ml),
            wall_temperature: Temperature::from_celsius(wall_c),
            thermal_recovery: Duration::from_s(recovery_s),
        },
        pump: Pump {
            speed: Conductance::from_l_per_s(0.2),
            line_molecular: Conductance::from_m3_per_s(5.0e-5),
            line_viscous_m3_per_s_pa: 2.0e-8,
            ultimate: AbsolutePressure::from_pa(15.0),
        },
        background,
        headspace: Headspace {
            gas: if s.uniform() < 0.5 { Gas::Air } else { Gas::Nitrogen },
            volume: Volume::from_ml(headspace_ml),
            pressure: AbsolutePressure::from_pa(headspace_pa),
        },
        leak,
        ambient: AbsolutePressure::from_atm(1.0),
        tiers: vec![Tier {
            evacuate_to: AbsolutePressure::from_pa(100.0),
            evacuate_limit: Duration::from_s(8.0),
            reach_limit: None,
            settle: Duration::from_s(settle_s),
            measure: Duration::from_s(measure_s),
            rise_limit: None,
        }],
        sample_interval: Duration::from_s(interval_s),
    };
    let outcome = simulate_with(&setup, &extras).expect("a cycle");
    let mut trace = outcome.trace.clone();
    let span = RiseSpan::of_tier(&trace, 1).expect("a measure stage");
    let step_at = span.measured_from_s + measure_s * (0.15 + 0.7 * s.uniform());
    let mut noise = Noise { slow: core::array::from_fn(|_| s.normal()), next: 0 };
    let mut warm = trace.temperatures_k.first().copied().unwrap_or(293.0);
    for place in 0..trace.times_s.len() {
        let time = trace.times_s[place];
        // A plunger takes a fifth of a second to move.
        let moved = ((time - step_at) / 0.2).clamp(0.0, 1.0);
        let value = trace.pressures_pa[place]
            + step_pa * moved
            + drift_pa_per_s * (time - span.isolated_s).max(0.0)
            + noise.draw(s, noise_pa, slow_share);
        let held = value.clamp(0.0, range_pa);
        trace.pressures_pa[place] = ((held / resolution_pa).round() * resolution_pa).min(range_pa);
        warm += (trace.temperatures_k[place] - warm) * (interval_s / 0.3).min(1.0);
        trace.temperatures_k[place] = warm + 0.01 * s.normal();
    }
    if !warm_channel {
        trace.temperatures_k.clear();
    }
    let parts = Parts::of(&outcome, step_pa, drift_pa_per_s * measure_s);
    // Every second unit is stated exactly: the interval of a size holds for the
    // headspace as given.
    let exact = unit.is_multiple_of(2);
    let off = |s: &mut RandomStream, share: f64| 1.0 + if exact { 0.0 } else { share * s.normal() };
    let stream_bit = s.uniform() < 0.5;
    // Of every second gauge a limit of its drift is stated, and kept.
    let limit = (drift_pa_per_s.abs() * (1.0 + s.uniform())).max(0.002);
    let gauge_drift = (unit / 2).is_multiple_of(2).then(|| PressureRate::from_pa_per_s(limit));
    let about = Circumstances {
        free_volume: Some(Volume::from_ml(free_ml * off(s, 0.01))),
        temperature: Some(Temperature::from_celsius(wall_c)),
        headspace: Some(HeadspaceState {
            gas: setup.headspace.gas,
            volume: Volume::from_ml(headspace_ml * off(s, 0.03)),
            pressure: AbsolutePressure::from_pa(headspace_pa * off(s, 0.03)),
        }),
        full_scale: (kind == Kind::FullScale && stream_bit)
            .then(|| AbsolutePressure::from_pa(range_pa)),
        gauge_drift,
        wet: None,
        yielding: None,
    };
    Planted {
        kind,
        span,
        about,
        principal: parts.principal(noise_pa, kind),
        leak_pa_per_s: parts.leak_pa / measure_s,
        leak_um,
        noise_pa,
        exact,
        trace,
    }
}

/// Parts of the rise in the measure stage, Pa.
struct Parts {
    leak_pa: f64,
    others: Vec<(Cause, f64)>,
}

impl Parts {
    fn of(outcome: &ExtendedOutcome, step_pa: f64, drift_pa: f64) -> Self {
        let parts = outcome.tiers[0].parts;
        Self {
            leak_pa: parts.leak_pa,
            others: vec![
                (Cause::Outgassing, parts.outgassing_pa),
                (Cause::Vapour, parts.vapour_pa),
                (Cause::Thermal, parts.thermal_pa),
                (Cause::Creep, parts.container_pa),
                (Cause::Step, step_pa),
                (Cause::Drift, drift_pa),
            ],
        }
    }

    /// The largest part, if it is three times the noise of a sample.
    fn principal(&self, noise_pa: f64, kind: Kind) -> Option<Cause> {
        let leak =
            if matches!(kind, Kind::EmptyingLeak) { Cause::EmptyingLeak } else { Cause::Leak };
        self.others
            .iter()
            .copied()
            .chain([(leak, self.leak_pa)])
            .filter(|(_, part)| part.abs() > 3.0 * noise_pa)
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            .map(|(cause, _)| cause)
    }
}

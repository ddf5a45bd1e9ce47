//! Simulated logs of one or several cycles with the times at which things
//! happened: pump, chamber, leak and outgassing by the gas balance of
//! `physics::cycle`; the vent through an orifice (choked, then slower), at once
//! or as an exponential; gauges that end, step, remember or stand beside zero;
//! clocks from 1 Hz to 1 kHz that are not quite even. All of it is invented,
//! and nothing of it is shared with what finds the stages.
#![allow(dead_code)] // Each test uses its part.

use digits::RandomStream;
use physics::cycle::{Background, Chamber, CycleSetup, Headspace, Pump, Tier, simulate};
use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Conductance, Duration, Length, Temperature, Volume};
use physics::trace::PressureTrace;
use study::forecast::LeakSize;

/// What truly happened in one cycle.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    /// Pumping begins.
    pub onset_s: f64,
    /// The chamber is isolated; an aborted cycle never is.
    pub isolated_s: f64,
    /// The closed chamber ends: the vent, the next pumping, or the record.
    pub closed_to_s: f64,
    pub vented: bool,
    pub aborted: bool,
    /// Rise of the closed chamber without noise, Pa.
    pub rise_pa: f64,
    /// Pressure at isolation, Pa.
    pub isolated_pa: f64,
}

/// A log with its truth.
pub struct Log {
    pub trace: PressureTrace,
    pub cycles: Vec<Truth>,
    pub room_pa: f64,
    pub noise_pa: f64,
    pub interval_s: f64,
    /// The gauge ends below what the closed chamber comes to.
    pub clipped: bool,
    /// The gauge ends below the room.
    pub small: bool,
    pub target: &'static str,
    pub vent: &'static str,
}

/// Uniform in the logarithm.
pub fn between(s: &mut RandomStream, low: f64, high: f64) -> f64 {
    digits::scalar::exp(digits::scalar::ln(low) + s.uniform() * digits::scalar::ln(high / low))
}

fn choose<T: Copy>(s: &mut RandomStream, of: &[T]) -> T {
    of[s.below(of.len() as u64) as usize]
}

/// Pressure of a chamber that is opened to the room through an orifice:
/// `dp/dt = (room/t0) f(p/room)`, choked below 0.528 of the room.
fn orifice_vent(from_pa: f64, room_pa: f64, filling_s: f64, step_s: f64) -> Vec<f64> {
    let mut values = Vec::new();
    let mut pressure = from_pa;
    for _ in 0..200_000 {
        let ratio = (pressure / room_pa).min(1.0);
        // St. Venant and Wantzel for a gas of 1.4, over its choked value.
        let f = if ratio < 0.528 {
            1.0
        } else {
            let r = digits::scalar::exp(digits::scalar::ln(ratio) / 1.4);
            let s = digits::scalar::exp(digits::scalar::ln(ratio) * 2.0 / 7.0);
            r * (1.0 - s).max(0.0).sqrt() * 3.864
        };
        pressure += room_pa / filling_s * f * step_s;
        if pressure > 0.9999 * room_pa {
            break;
        }
        values.push(pressure);
    }
    values
}

/// The clean course of a log, at nodes.
struct Course {
    times: Vec<f64>,
    pressures: Vec<f64>,
}

impl Course {
    fn now(&self) -> f64 {
        self.times.last().copied().unwrap_or(0.0)
    }

    fn push(&mut self, after_s: f64, pressure: f64) {
        self.times.push(self.now() + after_s);
        self.pressures.push(pressure);
    }

    fn at(&self, time: f64) -> f64 {
        let next = self.times.partition_point(|&t| t <= time);
        if next == 0 {
            return self.pressures[0];
        }
        if next >= self.times.len() {
            return self.pressures[self.pressures.len() - 1];
        }
        let (t0, t1) = (self.times[next - 1], self.times[next]);
        let part = if t1 > t0 { (time - t0) / (t1 - t0) } else { 1.0 };
        self.pressures[next - 1] + part * (self.pressures[next] - self.pressures[next - 1])
    }
}

/// How the cycles of a log follow one another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    One,
    /// Several with pauses, some of them aborted.
    Several,
    /// The next pumping begins as the chamber comes to the room.
    WithoutPause,
}

/// One log; the same seed, unit and row give the same one. `tight` asks for no
/// rise but what cannot be seen.
pub fn log(seed: u64, unit: u64, row: Row, tight: bool) -> Log {
    let mut stream = RandomStream::new(seed, unit);
    let s = &mut stream;
    let room_pa = choose(s, &[101_325.0, 98_000.0, 85_000.0, 72_000.0]);
    let free_ml = between(s, 20.0, 3000.0);
    let tau_s = between(s, 0.15, 2.0);
    let speed_l_s = free_ml * 1e-3 / tau_s;
    let (target, target_pa) = match s.below(4) {
        0 | 1 => ("deep", between(s, 60.0, 2000.0)),
        2 => ("middle", between(s, 5.0e3, 3.0e4)),
        _ => ("weak", room_pa * (0.3 + 0.6 * s.uniform())),
    };
    // Small gauges stand at their end until the chamber is nearly pumped.
    let full_scale_pa = if target == "deep" && s.uniform() < 0.4 {
        choose(s, &[3.0, 10.0, 30.0]) * target_pa
    } else {
        1.3e5
    };
    let small = full_scale_pa < room_pa;
    let noise_pa = if small {
        full_scale_pa * between(s, 2e-5, 1e-3)
    } else if target == "deep" {
        between(s, 0.3, 10.0)
    } else {
        between(s, 0.5, 20.0)
    };
    let resolution_pa = if s.uniform() < 0.5 {
        full_scale_pa / choose(s, &[16_384.0, 65_536.0, 1_048_576.0])
    } else {
        0.0
    };
    let slow_share = if s.uniform() < 0.3 { 0.5 * s.uniform() } else { 0.0 };
    let closed_s = between(s, 8.0, 60.0);
    let sudden = choose(s, &["none", "sudden", "orifice", "orifice", "exponential"]);
    let vent = if row == Row::One || sudden != "none" { sudden } else { "orifice" };
    let vent_s = between(s, 0.3, 8.0);
    let held_s = if s.below(2) == 0 { 0.0 } else { between(s, 0.5, 6.0) };
    let n_cycles = if row == Row::One { 1 } else { 2 + s.below(4) };
    let interval_s = between(s, 1e-3, (closed_s / 25.0).min(1.0)).max(closed_s / 30_000.0);
    let jitter = if s.below(2) == 0 { 0.0 } else { 0.3 * s.uniform() };
    let lost = if s.below(5) == 0 { 0.01 } else { 0.0 };
    let mut course = Course { times: vec![0.0], pressures: vec![room_pa] };
    let mut cycles = Vec::new();
    let mut ranges_over = false;
    for cycle in 0..n_cycles {
        let wait_s = match (row, cycle) {
            (Row::WithoutPause, 1..) => 0.0,
            _ if s.below(3) == 0 => 0.0,
            _ => 1.0 + 6.0 * s.uniform(),
        };
        course.push(f64::max(wait_s, if cycle == 0 { 2.0 * interval_s } else { 1e-6 }), room_pa);
        let onset_s = course.now();
        let aborted = row == Row::Several && s.below(5) == 0;
        // Rises of some 15 to 1000 noises over the closed time.
        let wanted_pa = if tight { 0.0 } else { noise_pa * between(s, 15.0, 1000.0) }
            .min(0.3 * (room_pa - target_pa));
        let per_pa = free_ml * 1e-6;
        let by_leak = s.below(2) == 0;
        let setup = CycleSetup {
            chamber: Chamber {
                free_volume: Volume::from_ml(free_ml),
                wall_temperature: Temperature::from_celsius(22.0),
                thermal_recovery: Duration::from_s(if tight {
                    1e-5
                } else {
                    between(s, 0.03, 0.8)
                }),
            },
            pump: Pump {
                speed: Conductance::from_l_per_s(speed_l_s),
                line_molecular: Conductance::from_m3_per_s(
                    speed_l_s * 1e-3 * between(s, 0.3, 10.0),
                ),
                line_viscous_m3_per_s_pa: 1e-4 * speed_l_s * 1e-3,
                ultimate: AbsolutePressure::from_pa(0.3 * target_pa.min(100.0)),
            },
            background: Background {
                one_over_t: if by_leak { 0.0 } else { wanted_pa * per_pa / 3.0 },
                one_over_t_offset: Duration::from_s(1.0),
                constant: if by_leak { wanted_pa * per_pa / closed_s } else { 0.0 },
                virtual_leak: None,
            },
            headspace: Headspace {
                gas: Gas::Air,
                volume: Volume::from_ml(5.0),
                pressure: AbsolutePressure::from_pa(room_pa),
            },
            leak: (by_leak && !tight && s.below(3) == 0).then(|| {
                LeakSize::from_flow_equivalent(Length::from_um(between(s, 3.0, 30.0)))
                    .expect("a size within range")
                    .as_orifice()
            }),
            ambient: AbsolutePressure::from_pa(room_pa),
            tiers: vec![Tier {
                evacuate_to: AbsolutePressure::from_pa(target_pa),
                evacuate_limit: Duration::from_s(60.0 * tau_s),
                reach_limit: None,
                settle: Duration::from_s(0.25 * closed_s),
                measure: Duration::from_s(0.75 * closed_s),
                rise_limit: None,
            }],
            sample_interval: Duration::from_s((closed_s / 2500.0).min(0.01)),
        };
        let outcome = simulate(&setup).expect("a cycle");
        let pumped_s = outcome.tiers[0].evacuate_end_s;
        let stop_s = if aborted { pumped_s * (0.3 + 0.5 * s.uniform()) } else { pumped_s };
        let (sim_t, sim_p) = (&outcome.trace.times_s, &outcome.trace.pressures_pa);
        for (time, pressure) in sim_t.iter().zip(sim_p).filter(|(t, _)| **t > 0.0 && **t < stop_s) {
            course.times.push(onset_s + time);
            course.pressures.push(*pressure);
        }
        let isolated_pa =
            if aborted { course.pressures[course.pressures.len() - 1] } else { target_pa };
        let mut isolated_s = onset_s + stop_s;
        let mut end_pa = isolated_pa;
        if !aborted {
            course.times.push(isolated_s);
            course.pressures.push(target_pa);
            // A valve that holds the pressure before it closes.
            if held_s > 0.0 {
                course.push(held_s, target_pa);
                isolated_s = course.now();
            }
            for (time, pressure) in sim_t.iter().zip(sim_p).filter(|(t, _)| **t > pumped_s) {
                course.times.push(isolated_s + time - pumped_s);
                course.pressures.push(*pressure);
            }
            end_pa = course.pressures[course.pressures.len() - 1];
            ranges_over |= end_pa + 6.0 * noise_pa > full_scale_pa;
        }
        let closed_to_s = course.now();
        cycles.push(Truth {
            onset_s,
            isolated_s,
            closed_to_s,
            vented: vent != "none",
            aborted,
            rise_pa: end_pa - isolated_pa,
            isolated_pa,
        });
        match vent {
            "none" => {}
            "sudden" => course.push(2e-3, room_pa),
            "orifice" => {
                let step_s = vent_s / 500.0;
                for value in orifice_vent(end_pa, room_pa, vent_s, step_s) {
                    course.push(step_s, value);
                }
            }
            _ => {
                for i in 1..1000 {
                    let left = digits::scalar::exp(-f64::from(i) * 0.01);
                    course.push(vent_s / 300.0, room_pa - (room_pa - end_pa) * left);
                }
            }
        }
        let last = cycle + 1 == n_cycles;
        if vent != "none" && last {
            course.push(between(s, 0.2, 8.0).max(4.0 * interval_s), room_pa);
        }
    }
    let end_s = course.now();
    let mut times_s: Vec<f64> = Vec::new();
    let n = (end_s / interval_s) as usize;
    for i in 0..=n {
        let time = interval_s * (i as f64 + jitter * (s.uniform() - 0.5));
        if s.uniform() >= lost && time >= 0.0 {
            times_s.push(time);
        }
    }
    let mut slow = 0.0;
    let pressures_pa = times_s
        .iter()
        .map(|&time| {
            slow = 0.8 * slow + 0.6 * s.normal();
            let noise =
                noise_pa * ((1.0 - slow_share).sqrt() * s.normal() + slow_share.sqrt() * slow);
            let value = (course.at(time) + noise).min(full_scale_pa);
            if resolution_pa > 0.0 {
                (value / resolution_pa).round() * resolution_pa
            } else {
                value
            }
        })
        .collect();
    let trace = PressureTrace { times_s, pressures_pa, ..PressureTrace::default() };
    Log { trace, cycles, room_pa, noise_pa, interval_s, clipped: ranges_over, small, target, vent }
}

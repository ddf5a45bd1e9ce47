//! What a pressure sensor makes of the pressure.

use digits::RandomStream;
use digits::scalar::{exp, powi};

use crate::quantities::{AbsolutePressure, Duration, PressureDifference, PressureRate};
use crate::trace::PressureTrace;

/// Shift of a sensor's zero with the temperature of its body.
///
/// The body follows the gas with a time constant,
/// `dT_b/dt = (T_gas - T_b)/lag`, from the temperature of the gas at the first
/// reading: the cold of a fast evacuation is over before the body feels it,
/// a room that warms is not. Shift = `per_kelvin × (T_b - T_b,start)`.
/// Source: common practice; data sheets state the first figure as an error of
/// zero per kelvin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroShift {
    /// Change of the reading per kelvin of the body; may be negative.
    pub per_kelvin: PressureDifference,
    /// Time constant with which the body follows the gas; zero follows at once.
    pub lag: Duration,
}

/// An absolute pressure sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureSensor {
    /// Largest pressure it reads; above, it stays at this value.
    pub range: AbsolutePressure,
    /// Step of the reading; zero reads without steps.
    pub resolution: PressureDifference,
    /// Standard deviation of the noise that is new at every sample.
    pub white_noise: PressureDifference,
    /// Standard deviation of the slow noise over the length of the record.
    pub flicker_noise: PressureDifference,
    /// Steady drift of the zero.
    pub drift: PressureRate,
    /// Shift of the zero with temperature, where it is known.
    pub zero_shift: Option<ZeroShift>,
}

/// Octaves of slow noise that are added up; ten span three decades of time.
const OCTAVES: usize = 10;

/// The record that a sensor makes of a trace.
///
/// Reading = pressure + white noise + flicker noise + drift × time + shift of
/// the zero ([`ZeroShift`]), limited to 0 … range, then rounded to the step. Flicker noise is the sum of ten
/// first-order processes of equal variance whose time constants are octaves
/// from the median sample interval: a spectrum close to 1/f over three decades
/// (common practice). Negative noise settings count as none; stages and
/// temperatures pass through.
///
/// The same stream gives the same record.
#[must_use]
pub fn record(
    trace: &PressureTrace,
    sensor: &PressureSensor,
    stream: &mut RandomStream,
) -> PressureTrace {
    let mut out = trace.clone();
    let mut noise = Noise::new(sensor.white_noise, sensor.flicker_noise, trace, stream);
    let mut body = Body::new(sensor.zero_shift, trace, 0);
    let start_s = trace.times_s.first().copied().unwrap_or(0.0);
    let samples = trace.times_s.iter().zip(out.pressures_pa.iter_mut());
    for (index, (time_s, pressure_pa)) in samples.enumerate() {
        let drift = sensor.drift.pa_per_s() * (time_s - start_s);
        let shift = body.shift_pa(trace.temperatures_k.get(index).copied(), *time_s);
        let reading = *pressure_pa + drift + shift + noise.next(*time_s, stream);
        *pressure_pa = quantised(reading.clamp(0.0, sensor.range.pa().max(0.0)), sensor);
    }
    out
}

/// A differential pressure sensor between the chamber and a reference volume
/// that was closed off at some moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DifferentialSensor {
    /// Largest difference it reads, either way.
    pub full_scale: PressureDifference,
    /// Step of the reading; zero reads without steps.
    pub resolution: PressureDifference,
    /// Standard deviation of the noise that is new at every sample.
    pub white_noise: PressureDifference,
    /// Standard deviation of the slow noise.
    pub flicker_noise: PressureDifference,
    /// Steady drift of the zero.
    pub drift: PressureRate,
    /// Shift of the zero with temperature, where it is known.
    pub zero_shift: Option<ZeroShift>,
}

/// What a differential sensor recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct DifferenceRecord {
    /// Sample times, seconds from the start of the trace.
    pub times_s: Vec<f64>,
    /// Chamber less reference, Pa.
    pub differences_pa: Vec<f64>,
    /// First time at which the reading stood at the end of the scale.
    pub saturated_from_s: Option<f64>,
}

/// The record of a differential sensor whose reference is closed off at a time
/// of the trace; it begins there.
///
/// Reading = difference + noise + drift × time + shift of the zero
/// ([`ZeroShift`]), limited to ± full scale, then rounded to the step. A reference
/// that is itself tight and at wall temperature is taken for granted.
#[must_use]
pub fn record_difference(
    trace: &PressureTrace,
    sensor: &DifferentialSensor,
    closed_at_s: f64,
    stream: &mut RandomStream,
) -> DifferenceRecord {
    let first = trace.times_s.partition_point(|&time| time < closed_at_s);
    let mut record = DifferenceRecord {
        times_s: Vec::with_capacity(trace.times_s.len() - first),
        differences_pa: Vec::with_capacity(trace.times_s.len() - first),
        saturated_from_s: None,
    };
    let Some(&reference_pa) = trace.pressures_pa.get(first) else { return record };
    let limit = sensor.full_scale.pa().abs();
    let step = sensor.resolution.pa();
    let mut noise = Noise::new(sensor.white_noise, sensor.flicker_noise, trace, stream);
    let mut body = Body::new(sensor.zero_shift, trace, first);
    for (index, &time_s) in trace.times_s.iter().enumerate().skip(first) {
        let Some(&pressure_pa) = trace.pressures_pa.get(index) else { break };
        let reading = pressure_pa - reference_pa
            + sensor.drift.pa_per_s() * (time_s - trace.times_s[first])
            + body.shift_pa(trace.temperatures_k.get(index).copied(), time_s)
            + noise.next(time_s, stream);
        if reading.abs() >= limit && record.saturated_from_s.is_none() {
            record.saturated_from_s = Some(time_s);
        }
        let held = reading.clamp(-limit, limit);
        let counted = if step > 0.0 {
            let most = (limit / step).floor();
            (held / step).round().clamp(-most, most) * step
        } else {
            held
        };
        record.times_s.push(time_s);
        record.differences_pa.push(counted);
    }
    record
}

/// Every n-th sample of a trace: a slower recorder. `every` of 0 or 1 changes
/// nothing.
#[must_use]
pub fn thinned(trace: &PressureTrace, every: usize) -> PressureTrace {
    let pick = |values: &[f64]| values.iter().step_by(every.max(1)).copied().collect();
    PressureTrace {
        times_s: pick(&trace.times_s),
        pressures_pa: pick(&trace.pressures_pa),
        temperatures_k: pick(&trace.temperatures_k),
        stages: trace.stages.clone(),
    }
}

/// The body of a sensor, sample after sample.
struct Body {
    effect: Option<ZeroShift>,
    start_k: f64,
    body_k: f64,
    gas_k: f64,
    last_s: f64,
}

impl Body {
    fn new(effect: Option<ZeroShift>, trace: &PressureTrace, first: usize) -> Self {
        // Without temperatures the body stays as it is.
        let start = trace.temperatures_k.get(first).copied();
        let start_k = start.unwrap_or(0.0);
        let last_s = trace.times_s.get(first).copied().unwrap_or(0.0);
        let effect = effect.filter(|_| start.is_some());
        Self { effect, start_k, body_k: start_k, gas_k: start_k, last_s }
    }

    fn shift_pa(&mut self, gas_k: Option<f64>, time_s: f64) -> f64 {
        let (Some(effect), Some(now_k)) = (self.effect, gas_k) else { return 0.0 };
        let lag_s = effect.lag.s();
        let elapsed_s = time_s - self.last_s;
        if lag_s > 0.0 && elapsed_s > 0.0 {
            // Exact for a gas temperature that is a straight line in between.
            let x = elapsed_s / lag_s;
            let slope = (now_k - self.gas_k) / x;
            let behind = (self.body_k - self.gas_k + slope) * exp(-x);
            self.body_k = now_k - slope + behind;
        } else if lag_s <= 0.0 {
            self.body_k = now_k;
        }
        self.gas_k = now_k;
        self.last_s = time_s;
        effect.per_kelvin.pa() * (self.body_k - self.start_k)
    }
}

/// White and flicker noise, sample after sample.
struct Noise {
    white: f64,
    share: f64,
    interval: f64,
    slow: [f64; OCTAVES],
    last_s: f64,
}

impl Noise {
    fn new(
        white: PressureDifference,
        flicker: PressureDifference,
        trace: &PressureTrace,
        stream: &mut RandomStream,
    ) -> Self {
        let n = trace.times_s.len();
        let interval = match n {
            0 | 1 => 1.0,
            _ => (trace.times_s[n - 1] - trace.times_s[0]) / (n - 1) as f64,
        };
        let share = flicker.pa().max(0.0) / (OCTAVES as f64).sqrt();
        let slow = if share > 0.0 {
            core::array::from_fn(|_| share * stream.normal())
        } else {
            [0.0; OCTAVES]
        };
        Self {
            white: white.pa().max(0.0),
            share,
            interval,
            slow,
            last_s: trace.times_s.first().copied().unwrap_or(0.0),
        }
    }

    fn next(&mut self, time_s: f64, stream: &mut RandomStream) -> f64 {
        let mut value = 0.0;
        if self.white > 0.0 {
            value += self.white * stream.normal();
        }
        if self.share > 0.0 {
            let elapsed = time_s - self.last_s;
            for (octave, state) in self.slow.iter_mut().enumerate() {
                let constant = self.interval * powi(2.0, octave as i32);
                let kept = if constant > 0.0 { exp(-elapsed / constant) } else { 0.0 };
                if elapsed > 0.0 {
                    *state =
                        kept * *state + self.share * (1.0 - kept * kept).sqrt() * stream.normal();
                }
            }
            value += digits::sums::sum(self.slow);
        }
        self.last_s = time_s;
        value
    }
}

fn quantised(reading_pa: f64, sensor: &PressureSensor) -> f64 {
    let step = sensor.resolution.pa();
    if step <= 0.0 {
        return reading_pa;
    }
    // Rounding up past the range would read more than the sensor can.
    let counts = (reading_pa / step).round();
    let limit = (sensor.range.pa() / step).floor();
    counts.min(limit) * step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sensor() -> PressureSensor {
        PressureSensor {
            range: AbsolutePressure::from_pa(1000.0),
            resolution: PressureDifference::from_pa(0.0),
            white_noise: PressureDifference::from_pa(0.0),
            flicker_noise: PressureDifference::from_pa(0.0),
            drift: PressureRate::from_pa_per_s(0.0),
            zero_shift: None,
        }
    }

    fn flat(pressure_pa: f64, n: usize) -> PressureTrace {
        PressureTrace {
            times_s: (0..n).map(|k| k as f64 * 0.02).collect(),
            pressures_pa: vec![pressure_pa; n],
            ..Default::default()
        }
    }

    #[test]
    fn a_perfect_sensor_reads_the_pressure() {
        let trace = flat(123.456, 10);
        assert_eq!(record(&trace, &sensor(), &mut RandomStream::new(1, 1)), trace);
    }

    #[test]
    fn steps_range_and_drift() {
        let coarse = PressureSensor { resolution: PressureDifference::from_pa(0.5), ..sensor() };
        let read = |p| record(&flat(p, 1), &coarse, &mut RandomStream::new(1, 1)).pressures_pa[0];
        assert_eq!(read(10.3), 10.5);
        assert_eq!(read(5000.0), 1000.0);
        let drifting = PressureSensor { drift: PressureRate::from_pa_per_s(2.0), ..sensor() };
        let out = record(&flat(10.0, 51), &drifting, &mut RandomStream::new(1, 1));
        assert!((out.pressures_pa[50] - 12.0).abs() < 1e-12);
    }

    #[test]
    fn white_noise_has_its_deviation_and_flicker_its_own() {
        let noisy = PressureSensor { white_noise: PressureDifference::from_pa(0.5), ..sensor() };
        let out = record(&flat(500.0, 20_000), &noisy, &mut RandomStream::new(3, 1));
        let deviation = digits::sums::standard_deviation(&out.pressures_pa).unwrap_or(9.0);
        assert!((deviation / 0.5 - 1.0).abs() < 4.0 / 200.0);
        let slow = PressureSensor { flicker_noise: PressureDifference::from_pa(0.5), ..sensor() };
        let out = record(&flat(500.0, 200_000), &slow, &mut RandomStream::new(3, 1));
        let deviation = digits::sums::standard_deviation(&out.pressures_pa).unwrap_or(9.0);
        // Slow noise has few independent values: 10 % is four standard errors.
        assert!((deviation / 0.5 - 1.0).abs() < 0.1, "{deviation}");
        // Neighbours are alike: lag-one steps are far below white noise of
        // the same size, whose steps have sqrt(2) times the deviation.
        let steps: Vec<f64> = out.pressures_pa.windows(2).map(|w| w[1] - w[0]).collect();
        let step = digits::sums::standard_deviation(&steps).unwrap_or(9.0);
        assert!(step < 0.7 * deviation);
    }

    #[test]
    fn a_differential_sensor_starts_at_zero_and_saturates() {
        let quiet = DifferentialSensor {
            full_scale: PressureDifference::from_pa(50.0),
            resolution: PressureDifference::from_pa(0.0),
            white_noise: PressureDifference::from_pa(0.0),
            flicker_noise: PressureDifference::from_pa(0.0),
            drift: PressureRate::from_pa_per_s(0.0),
            zero_shift: Some(ZeroShift {
                per_kelvin: PressureDifference::from_pa(2.0),
                lag: Duration::from_s(0.0),
            }),
        };
        let trace = PressureTrace {
            times_s: vec![0.0, 1.0, 2.0, 3.0],
            pressures_pa: vec![100.0, 110.0, 130.0, 500.0],
            temperatures_k: vec![290.0, 291.0, 291.5, 291.5],
            ..Default::default()
        };
        let out = record_difference(&trace, &quiet, 0.5, &mut RandomStream::new(1, 1));
        assert_eq!(out.times_s, vec![1.0, 2.0, 3.0]);
        assert_eq!(out.differences_pa, vec![0.0, 21.0, 50.0]);
        assert_eq!(out.saturated_from_s, Some(3.0));
        let none = record_difference(&trace, &quiet, 9.0, &mut RandomStream::new(1, 1));
        assert!(none.differences_pa.is_empty());
    }

    #[test]
    fn the_zero_follows_the_body_of_the_sensor() {
        let shifting = |lag_s: f64| PressureSensor {
            zero_shift: Some(ZeroShift {
                per_kelvin: PressureDifference::from_pa(-2.0),
                lag: Duration::from_s(lag_s),
            }),
            ..sensor()
        };
        let read = |trace: &PressureTrace, lag_s: f64| {
            record(trace, &shifting(lag_s), &mut RandomStream::new(1, 1)).pressures_pa
        };
        // A body that follows at once: -2 Pa/K times 1.5 K.
        let mut trace = flat(100.0, 4);
        trace.temperatures_k = vec![290.0, 290.0, 290.0, 291.5];
        assert_eq!(read(&trace, 0.0), vec![100.0, 100.0, 100.0, 97.0]);
        // Gas that warms by 0.5 K/s for 10 s: the body lags by the textbook
        // ramp response r (t - lag (1 - exp(-t/lag))), whatever the samples.
        for n in [2, 11, 1001] {
            let seconds = |k: usize| 10.0 * k as f64 / (n - 1) as f64;
            let ramp = PressureTrace {
                times_s: (0..n).map(seconds).collect(),
                pressures_pa: vec![100.0; n],
                temperatures_k: (0..n).map(|k| 290.0 + 0.5 * seconds(k)).collect(),
                ..Default::default()
            };
            let body = 0.5 * (10.0 - 4.0 * (1.0 - digits::scalar::exp(-10.0 / 4.0)));
            let last = read(&ramp, 4.0)[n - 1];
            assert!((last - (100.0 - 2.0 * body)).abs() < 1e-9, "{n}: {last}");
        }
        // Without temperatures nothing shifts.
        assert_eq!(read(&flat(100.0, 3), 4.0), vec![100.0; 3]);
    }

    #[test]
    fn a_slower_recorder_keeps_every_second_sample() {
        assert_eq!(thinned(&flat(5.0, 5), 2).times_s, vec![0.0, 0.04, 0.08]);
        assert_eq!(thinned(&flat(5.0, 5), 0).n_samples(), 5);
    }

    #[test]
    fn same_stream_same_record() {
        let noisy = PressureSensor { white_noise: PressureDifference::from_pa(0.5), ..sensor() };
        let read = || record(&flat(500.0, 100), &noisy, &mut RandomStream::new(3, 7));
        assert_eq!(read(), read());
    }
}

//! What a pressure sensor makes of the pressure.

use digits::RandomStream;
use digits::scalar::{exp, powi};

use crate::quantities::{AbsolutePressure, PressureDifference, PressureRate};
use crate::trace::PressureTrace;

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
}

/// Octaves of slow noise that are added up; ten span three decades of time.
const OCTAVES: usize = 10;

/// The record that a sensor makes of a trace.
///
/// Reading = pressure + white noise + flicker noise + drift × time, limited to
/// 0 … range, then rounded to the step. Flicker noise is the sum of ten
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
    let n = trace.times_s.len();
    let interval = match n {
        0 | 1 => 1.0,
        _ => (trace.times_s[n - 1] - trace.times_s[0]) / (n - 1) as f64,
    };
    let flicker = sensor.flicker_noise.pa().max(0.0);
    let white = sensor.white_noise.pa().max(0.0);
    let share = flicker / (OCTAVES as f64).sqrt();
    let mut slow = [0.0; OCTAVES];
    if flicker > 0.0 {
        slow = core::array::from_fn(|_| share * stream.normal());
    }
    let mut last_s = trace.times_s.first().copied().unwrap_or(0.0);
    for (time_s, pressure_pa) in trace.times_s.iter().zip(out.pressures_pa.iter_mut()) {
        let mut reading = *pressure_pa + sensor.drift.pa_per_s() * (time_s - trace.times_s[0]);
        if white > 0.0 {
            reading += white * stream.normal();
        }
        if flicker > 0.0 {
            let elapsed = time_s - last_s;
            for (octave, state) in slow.iter_mut().enumerate() {
                let constant = interval * powi(2.0, octave as i32);
                let kept = if constant > 0.0 { exp(-elapsed / constant) } else { 0.0 };
                if elapsed > 0.0 {
                    *state = kept * *state + share * (1.0 - kept * kept).sqrt() * stream.normal();
                }
            }
            reading += digits::sums::sum(slow);
        }
        last_s = *time_s;
        *pressure_pa = quantised(reading.clamp(0.0, sensor.range.pa().max(0.0)), sensor);
    }
    out
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
    fn same_stream_same_record() {
        let noisy = PressureSensor { white_noise: PressureDifference::from_pa(0.5), ..sensor() };
        let read = || record(&flat(500.0, 100), &noisy, &mut RandomStream::new(3, 7));
        assert_eq!(read(), read());
    }
}

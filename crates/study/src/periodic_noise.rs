//! A tone in a trace: mains hum, a pump, a regulator that hunts.
//!
//! A tone at or beyond half the sampling rate shows up at another frequency
//! (it is aliased), so that only what is seen can be said, not what it is.

use physics::trace::PressureTrace;

/// A tone that stands out of the noise around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeriodicNoise {
    /// Its period as the samples show it, s.
    pub period_s: f64,
    /// Its amplitude, Pa.
    pub amplitude_pa: f64,
}

/// Fewest and most samples that are looked at.
const FEWEST: usize = 64;
const MOST: usize = 512;
/// Fewest periods within the samples: slower waves are the shape of the rise.
const FEWEST_PERIODS: usize = 5;
/// Neighbouring frequencies, on each side, that give the level around a tone.
const NEIGHBOURS: usize = 24;
/// Chance at which noise without a tone may be taken for one.
const FALSE_ALARM: f64 = 1.0e-6;

/// Finds the strongest tone of evenly spaced samples; `None` where none stands
/// out, or where the spacing varies.
///
/// The residuals about a parabola are taken to their periodogram, and each
/// ordinate is set against the mean of those around it, so that slow noise
/// does not count. The ratio of noise to its own level is exponential, whence
/// the bound `ln(m / alpha)` for the largest of m (Fisher 1929, for a level
/// that is known; the level is taken from 2 · 24 neighbours).
///
/// # Example
/// ```
/// use study::periodic_noise::periodic_noise;
/// use study::trace::PressureTrace;
/// let times_s: Vec<f64> = (0..500).map(|i| f64::from(i) * 0.02).collect();
/// let hum = |t: f64| 100.0 + 2.0 * t + 0.5 * digits::scalar::sin(2.0 * core::f64::consts::PI * t / 0.25);
/// let pressures_pa = times_s.iter().map(|&t| hum(t)).collect();
/// let trace = PressureTrace { times_s, pressures_pa, ..Default::default() };
/// let found = periodic_noise(&trace, 0..500).expect("a tone");
/// assert!((found.period_s - 0.25).abs() < 0.001 && (found.amplitude_pa - 0.5).abs() < 0.02);
/// ```
#[must_use]
pub fn periodic_noise(
    trace: &PressureTrace,
    range: core::ops::Range<usize>,
) -> Option<PeriodicNoise> {
    let end = range.end.min(range.start + MOST);
    let times = trace.times_s.get(range.start..end)?;
    let pressures = trace.pressures_pa.get(range.start..end)?;
    let n = times.len();
    if n < FEWEST {
        return None;
    }
    let step_s = (times[n - 1] - times[0]) / (n - 1) as f64;
    let even = times.windows(2).all(|pair| (pair[1] - pair[0] - step_s).abs() < 0.2 * step_s);
    if !(step_s > 0.0) || !even {
        return None;
    }
    let residuals = about_parabola(pressures);
    let powers = periodogram(&residuals);
    let first = FEWEST_PERIODS;
    let strongest = (first..powers.len()).max_by(|&a, &b| powers[a].total_cmp(&powers[b]))?;
    let around: Vec<f64> = (first..powers.len())
        .filter(|&k| {
            let apart = k.abs_diff(strongest);
            (2..=NEIGHBOURS + 1).contains(&apart)
        })
        .map(|k| powers[k])
        .collect();
    let level = digits::sums::mean(&around)?;
    let bound = digits::scalar::ln((powers.len() - first) as f64 / FALSE_ALARM);
    // A record without noise but its own rounding has no tones.
    let scale = pressures.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let amplitude_pa = 2.0 * powers[strongest].sqrt() / n as f64;
    if powers[strongest] <= bound * level || amplitude_pa <= 1.0e-9 * scale {
        return None;
    }
    Some(PeriodicNoise { period_s: n as f64 * step_s / strongest as f64, amplitude_pa })
}

/// Residuals about a least-squares parabola through evenly spaced values, by
/// the orthogonal polynomials of the places.
fn about_parabola(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let place = |i: usize| i as f64 - (n - 1.0) / 2.0;
    let mean_square = (n * n - 1.0) / 12.0;
    let bend = |i: usize| place(i) * place(i) - mean_square;
    let over = |shape: &dyn Fn(usize) -> f64| {
        let product =
            digits::sums::sum(values.iter().enumerate().map(|(i, value)| shape(i) * value));
        product / digits::sums::sum((0..values.len()).map(|i| shape(i) * shape(i)))
    };
    let (level, slope, curve) = (over(&|_| 1.0), over(&place), over(&bend));
    let fitted = |i: usize| level + slope * place(i) + curve * bend(i);
    values.iter().enumerate().map(|(i, value)| value - fitted(i)).collect()
}

/// Frequencies that are turned side by side.
const LANES: usize = 8;

/// Ordinates 0 to n/2 of the periodogram, |sum x exp(-2 pi i k j / n)|².
fn periodogram(values: &[f64]) -> Vec<f64> {
    let n = values.len();
    let mut powers = Vec::with_capacity(n / 2 + LANES);
    while powers.len() <= n / 2 {
        let first = powers.len();
        let turn: [f64; LANES] = core::array::from_fn(|lane| {
            2.0 * core::f64::consts::PI * (first + lane) as f64 / n as f64
        });
        let (cos, sin) = (turn.map(digits::scalar::cos), turn.map(digits::scalar::sin));
        // Turned step by step; some hundred steps lose some 1e-14.
        let (mut c, mut s) = ([1.0; LANES], [0.0; LANES]);
        let (mut real, mut imaginary) = ([0.0; LANES], [0.0; LANES]);
        for value in values {
            for lane in 0..LANES {
                real[lane] += value * c[lane];
                imaginary[lane] += value * s[lane];
                let turned = c[lane] * cos[lane] - s[lane] * sin[lane];
                s[lane] = s[lane] * cos[lane] + c[lane] * sin[lane];
                c[lane] = turned;
            }
        }
        powers.extend(
            (0..LANES).map(|lane| real[lane] * real[lane] + imaginary[lane] * imaginary[lane]),
        );
    }
    powers.truncate(n / 2 + 1);
    powers
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    fn noisy(unit: u64, correlation: f64, amplitude: f64) -> PressureTrace {
        let mut random = RandomStream::new(41, unit);
        let mut last = 0.0;
        let times_s: Vec<f64> = (0..600).map(|i| f64::from(i) * 0.02).collect();
        let pressures_pa = times_s
            .iter()
            .map(|t| {
                last = correlation * last + random.normal();
                let turn = 2.0 * core::f64::consts::PI * t * 3.0;
                100.0 + 2.0 * t + last + amplitude * digits::scalar::sin(turn)
            })
            .collect();
        PressureTrace { times_s, pressures_pa, ..PressureTrace::default() }
    }

    #[test]
    fn a_tone_is_found_and_noise_is_none() {
        for unit in 0..40 {
            for correlation in [0.0, 0.6, 0.9] {
                let plain = noisy(unit, correlation, 0.0);
                assert_eq!(periodic_noise(&plain, 0..600), None, "{unit} {correlation}");
            }
            let found = periodic_noise(&noisy(unit, 0.3, 1.0), 0..600).unwrap();
            assert!((found.period_s - 1.0 / 3.0).abs() < 0.01, "{found:?}");
            assert!((found.amplitude_pa - 1.0).abs() < 0.3, "{found:?}");
        }
    }

    #[test]
    fn a_clean_rise_and_an_uneven_clock_give_none() {
        let clean = noisy(0, 0.0, 0.0);
        let rise = PressureTrace {
            pressures_pa: clean.times_s.iter().map(|t| 100.0 + 3.0 * t).collect(),
            ..clean.clone()
        };
        assert_eq!(periodic_noise(&rise, 0..600), None);
        let mut uneven = noisy(1, 0.0, 5.0);
        for time in &mut uneven.times_s[300..] {
            *time += 1.0;
        }
        assert_eq!(periodic_noise(&uneven, 0..600), None);
        assert_eq!(periodic_noise(&clean, 0..20), None);
    }
}

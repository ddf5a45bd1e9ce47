//! Outgassing of walls and seals: rate laws and their integrals in closed form.

use digits::scalar::{exp, exp_m1, ln_1p};

use crate::quantities::Duration;

/// A law of outgassing: throughput against time since the start of pumping,
/// for gas at wall temperature. Throughputs in Pa·m³/s, gas in Pa·m³.
///
/// Laws and typical exponents: physics.md 6 (common practice). A chamber that
/// is vented every cycle takes up water again: treat the strengths as constants
/// to be calibrated, with a prior factor of ten.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum OutgassingLaw {
    /// Same throughput always: `q`.
    Constant {
        /// `q`, Pa·m³/s.
        throughput_pa_m3_per_s: f64,
    },
    /// `a/(t + t0)`: desorption from metal and glass.
    OneOverTime {
        /// `a`, Pa·m³.
        amount_pa_m3: f64,
        /// `t0`, keeps the law finite at the start; above zero.
        offset: Duration,
    },
    /// `b/sqrt(t + t0)`: diffusion out of elastomers and plastics.
    OneOverRootTime {
        /// `b`, Pa·m³/√s.
        amount_pa_m3_per_root_s: f64,
        /// `t0`; may be zero, the integral is finite.
        offset: Duration,
    },
    /// `q0 e^(-t/τ)`: a thin part running empty.
    Exponential {
        /// `q0`, Pa·m³/s.
        initial_throughput_pa_m3_per_s: f64,
        /// `τ`, above zero.
        time_constant: Duration,
    },
}

impl OutgassingLaw {
    /// Throughput at a time since the start, Pa·m³/s.
    #[must_use]
    pub fn throughput_pa_m3_per_s(&self, time: Duration) -> f64 {
        let t = time.s();
        match *self {
            Self::Constant { throughput_pa_m3_per_s } => throughput_pa_m3_per_s,
            Self::OneOverTime { amount_pa_m3, offset } => amount_pa_m3 / (t + offset.s()),
            Self::OneOverRootTime { amount_pa_m3_per_root_s, offset } => {
                amount_pa_m3_per_root_s / (t + offset.s()).sqrt()
            }
            Self::Exponential { initial_throughput_pa_m3_per_s, time_constant } => {
                initial_throughput_pa_m3_per_s * exp(-t / time_constant.s())
            }
        }
    }

    /// Gas given off between two times, Pa·m³, in closed form.
    ///
    /// Constant `q Δt`; 1/t `a ln((t2+t0)/(t1+t0))`; 1/√t
    /// `2 b (√(t2+t0) - √(t1+t0))`; exponential `q0 τ (e^(-t1/τ) - e^(-t2/τ))`.
    ///
    /// ```
    /// use physics::outgassing::OutgassingLaw;
    /// use physics::quantities::Duration;
    /// // 100 cm2 of steel, 2e-8 mbar L/(s cm2) at one hour, from 60 to 70 s.
    /// let law = OutgassingLaw::OneOverTime {
    ///     amount_pa_m3: 2e-9 * 100.0 * 3600.0,
    ///     offset: Duration::from_s(0.0),
    /// };
    /// let gas = law.released_pa_m3(Duration::from_s(60.0), Duration::from_s(70.0));
    /// assert!((gas / 1e-4 - 1.110).abs() < 1e-3); // Pa in 100 mL
    /// ```
    #[must_use]
    pub fn released_pa_m3(&self, from: Duration, to: Duration) -> f64 {
        let (t1, t2) = (from.s(), to.s());
        match *self {
            Self::Constant { throughput_pa_m3_per_s } => throughput_pa_m3_per_s * (t2 - t1),
            Self::OneOverTime { amount_pa_m3, offset } => {
                amount_pa_m3 * ln_1p((t2 - t1) / (t1 + offset.s()))
            }
            Self::OneOverRootTime { amount_pa_m3_per_root_s, offset } => {
                let (a, b) = ((t1 + offset.s()).sqrt(), (t2 + offset.s()).sqrt());
                // (t2 - t1)/(√t2 + √t1) keeps the digits of a short window.
                let sum = a + b;
                if sum > 0.0 { 2.0 * amount_pa_m3_per_root_s * (t2 - t1) / sum } else { 0.0 }
            }
            Self::Exponential { initial_throughput_pa_m3_per_s, time_constant } => {
                let tau = time_constant.s();
                -initial_throughput_pa_m3_per_s * tau * exp(-t1 / tau) * exp_m1(-(t2 - t1) / tau)
            }
        }
    }
}

/// One past use of a chamber: pumped, then open to room air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PastUse {
    /// Time under vacuum.
    pub pumped: Duration,
    /// Time open to the room afterwards.
    pub vented: Duration,
}

/// Age that a chamber brings into its next cycle, from its past uses in order:
/// the offset `t0` to add to a 1/t or 1/√t law.
///
/// Pumping adds its time; standing open forgets with a time constant, because
/// the walls take up water again: `age ← (age + t_pumped) e^(-t_vented/τ)`. The
/// rule is an assumption of this project (no published figure behind it), so τ
/// is to be fitted to blanks run in series. It says what matters: a chamber
/// used all day outgasses less than one opened after the week-end.
///
/// ```
/// use physics::outgassing::{PastUse, age_after};
/// use physics::quantities::Duration;
/// let s = Duration::from_s;
/// let quick = [PastUse { pumped: s(30.0), vented: s(10.0) }; 20];
/// let slow = [PastUse { pumped: s(30.0), vented: s(3600.0) }; 20];
/// let memory = s(600.0);
/// assert!(age_after(&quick, memory).s() > 10.0 * age_after(&slow, memory).s());
/// ```
#[must_use]
pub fn age_after(history: &[PastUse], forgetting: Duration) -> Duration {
    let age = history.iter().fold(0.0, |age, use_| {
        let kept = if forgetting.s() > 0.0 { exp(-use_.vented.s() / forgetting.s()) } else { 0.0 };
        (age + use_.pumped.s()) * kept
    });
    Duration::from_s(age)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_released_gas_is_the_integral_of_the_throughput() {
        let s = Duration::from_s;
        let laws = [
            OutgassingLaw::Constant { throughput_pa_m3_per_s: 2e-6 },
            OutgassingLaw::OneOverTime { amount_pa_m3: 6e-4, offset: s(1.0) },
            OutgassingLaw::OneOverRootTime { amount_pa_m3_per_root_s: 3e-5, offset: s(0.5) },
            OutgassingLaw::Exponential {
                initial_throughput_pa_m3_per_s: 1e-5,
                time_constant: s(7.0),
            },
        ];
        for law in laws {
            // Simpson's rule, 2000 panels: error far below 1e-9.
            let (from, to, n) = (2.0, 12.0, 2000);
            let h = (to - from) / f64::from(n);
            let total: f64 = (0..=n)
                .map(|k| {
                    let weight = if k == 0 || k == n { 1.0 } else { f64::from(2 + 2 * (k % 2)) };
                    weight * law.throughput_pa_m3_per_s(s(from + h * f64::from(k)))
                })
                .sum::<f64>()
                * h
                / 3.0;
            let closed = law.released_pa_m3(s(from), s(to));
            assert!((closed / total - 1.0).abs() < 1e-9, "{law:?}");
        }
    }
}

//! Where the gas went over a whole cycle.

/// Where the gas went over a whole cycle, Pa·m³ at the wall temperature of the
/// start.
///
/// ```text
/// start + gained = pumped + end
/// ```
///
/// In [`simulate`](super::simulate) what left through the pump follows stage by
/// stage from what chamber, headspace and pocket held before and after and from
/// outgassing in closed form, so the books close to rounding; it agrees with
/// the integral of the pump's throughput within the tolerance of the solver. In
/// [`extended`](super::extended) it is integrated as a state of its own.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct GasBalance {
    /// In chamber, headspace, pocket and tubing at the start.
    pub start: f64,
    /// In them at the end.
    pub end: f64,
    /// Came in: outgassing, vapour, room air.
    pub gained: f64,
    /// Pumped.
    pub pumped: f64,
}

impl GasBalance {
    /// What the books leave unexplained, relative to the gas at the start.
    #[must_use]
    pub fn error(&self) -> f64 {
        digits::sums::sum([self.start, self.gained, -self.pumped, -self.end]) / self.start
    }
}

//! The line of readings against size, and the bound that follows from it: the
//! same for the results of a study and for its rehearsal.

use digits::scalar::ln;
use statistics::CannotSay;
use statistics::detection::signal_response::{
    Place, Signal, SignalResponse, Spread, signal_response,
};

use crate::criteria::BOUND_PROBABILITY;

/// Standard deviations of the negative controls that a net rise must exceed to
/// count as read. Common practice for a noise floor.
const FLOOR_SD: f64 = 3.0;

/// Net rise, in thresholds, beyond which a reading only counts as lying above:
/// the line has to hold around the threshold, and far from it the scatter is
/// another (less noise) and large leaks empty their headspace.
const CAP: f64 = 5.0;

/// Fewest readings that were read from which a scatter that changes with size is
/// fitted: with fewer, the fit may put all scatter at one end
/// (`docs/coverage.md`).
const FEWEST_FOR_SPREAD: usize = 20;

/// Probability below which a check speaks against claiming from the line. Three
/// checks at the usual 0.05 would withhold one good claim in seven.
const DOUBTFUL: f64 = 0.01;

/// What a run says of its rise over the blank, Pa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NetRise {
    /// It was read.
    Read(f64),
    /// It lies within the noise, below this.
    Below(f64),
    /// It lies above this: a limit ended the run, the gauge was at its end, or
    /// the reading lies too far from the threshold to tell of the line there.
    Above(f64),
}

/// Blank, floor and threshold, Pa.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    pub(crate) blank_pa: f64,
    pub(crate) floor_pa: f64,
    pub(crate) threshold_pa: f64,
}

impl Scale {
    /// From mean and standard deviation of the negative controls and the
    /// reject limit; `None` where the limit does not lie above the mean.
    pub(crate) fn of(mean_pa: f64, sd_pa: f64, limit_pa: f64) -> Option<Self> {
        let threshold_pa = limit_pa - mean_pa;
        let floor_pa = (FLOOR_SD * sd_pa).min(threshold_pa);
        (threshold_pa > 0.0).then_some(Self { blank_pa: mean_pa, floor_pa, threshold_pa })
    }

    /// What a rise says where its cycle ran to the end.
    pub(crate) fn read(&self, rise_pa: f64, gauge_at_its_end: bool) -> NetRise {
        let net = rise_pa - self.blank_pa;
        let cap = CAP * self.threshold_pa;
        if gauge_at_its_end {
            NetRise::Above(net.clamp(self.floor_pa, cap.max(self.floor_pa)))
        } else if net > cap {
            NetRise::Above(cap)
        } else if net <= self.floor_pa {
            NetRise::Below(self.floor_pa)
        } else {
            NetRise::Read(net)
        }
    }

    /// What a rejection says: how high the rise would have been in the deciding
    /// tier nobody knows.
    pub(crate) fn rejected(&self) -> NetRise {
        NetRise::Above(self.threshold_pa)
    }
}

/// Readings on the axes of the fit.
#[derive(Debug, Default)]
pub(crate) struct Axes {
    pub(crate) x: Vec<f64>,
    signals: Vec<Signal>,
    units: Vec<usize>,
}

impl Axes {
    pub(crate) fn push(&mut self, size_um: f64, net: NetRise, unit: usize) {
        self.x.push(ln(size_um));
        self.signals.push(match net {
            NetRise::Read(pa) => Signal::Read(ln(pa)),
            NetRise::Below(pa) => Signal::Below(ln(pa)),
            NetRise::Above(pa) => Signal::Above(ln(pa)),
        });
        self.units.push(unit);
    }
}

/// The line.
pub(crate) struct ReadLine {
    pub(crate) line: SignalResponse,
    /// Where it has to be reached to be found, on the axis of the signals.
    pub(crate) at: f64,
    /// What speaks against claiming from it.
    pub(crate) against: Vec<String>,
}

impl ReadLine {
    pub(crate) fn of(axes: &Axes, scale: &Scale) -> Result<Self, CannotSay> {
        let fit = |spread| signal_response(&axes.x, &axes.signals, Some(&axes.units), spread);
        let mut line = fit(Spread::Constant)?;
        let well_read = line.read_below_above.0 >= FEWEST_FOR_SPREAD;
        if line.spread_test.is_some_and(|test| test.p_value < 0.05)
            && well_read
            && let Ok(other) = fit(Spread::LogLinearInSize)
        {
            line = other;
        }
        let against = line
            .assumptions
            .iter()
            .filter(|assumption| assumption.p_value.is_some_and(|p| p < DOUBTFUL))
            // A scatter that changes is fitted as such.
            .filter(|assumption| {
                line.spread == Spread::Constant || assumption.name != "equal scatter at all sizes"
            })
            // Repeats of a unit are allowed for by the effect of the unit.
            .filter(|assumption| assumption.name != "readings of one unit independent")
            .map(|assumption| format!("{} ({})", assumption.name, assumption.finding))
            .collect();
        Ok(Self { line, at: ln(scale.threshold_pa), against })
    }

    /// Where on the line a share of the units is found.
    pub(crate) fn place(&self, probability: f64, confidence: f64) -> Result<Place, CannotSay> {
        self.line.place_detected(self.at, probability, confidence)
    }

    /// Whether the upper bound on the size found with probability 0.9 lies at or
    /// below each of these sizes, µm; `None` where there is none.
    pub(crate) fn bounded_by(&self, um: &[f64], confidence: f64) -> Option<Vec<bool>> {
        let sizes: Vec<f64> = um.iter().map(|um| ln(*um)).collect();
        self.line.bounded_by(&sizes, self.at, BOUND_PROBABILITY, confidence).ok()
    }
}

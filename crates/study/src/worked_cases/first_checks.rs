//! The number that an expert would check first in each worked case.

use crate::forecast::Forecast;

/// What is checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FirstQuantity {
    /// Time constant with which a leak of this size empties the headspace, s.
    EmptyingTime {
        /// Flow-equivalent diameter, µm.
        um: f64,
    },
    /// Rise if the whole headspace emptied into the chamber, Pa.
    Ceiling,
    /// Rise of a leak of this size above that of a tight unit, Pa.
    RiseOfLeak {
        /// Flow-equivalent diameter, µm.
        um: f64,
    },
}

/// A number to check first, with where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstCheck {
    /// Case that it belongs to.
    pub id: &'static str,
    /// What is checked.
    pub quantity: FirstQuantity,
    /// Its value, s or Pa.
    pub value: f64,
    /// How near the forecast must come, relative.
    pub tolerance: f64,
    /// How the value was had, without this program.
    pub source: &'static str,
}

/// By hand, for choked air at 20 °C with `C_1 = 198.7 m/s`: emptying time
/// `τ = V_h/(C_1 A)`; ceiling `p_0 V_h/(V_h + V_c)`; rise of a leak
/// `p_0 V_h/V_c (e^(-t1/τ) - e^(-t2/τ))`, with t1 and t2 the middles of the
/// first and last tenth of the measure stage from the moment at which the
/// chamber is at low pressure.
const CHECKS: [FirstCheck; 10] = [
    FirstCheck {
        id: "lyo-2r",
        quantity: FirstQuantity::Ceiling,
        value: 30_000.0 * 3.6 / (3.6 + 12.0),
        tolerance: 1e-9,
        source: "0.3 bar × 3.6 mL/(3.6 mL + 12 mL), by hand",
    },
    FirstCheck {
        id: "liquid-10r",
        quantity: FirstQuantity::EmptyingTime { um: 10.0 },
        value: 3.5e-6 / (198.7 * 7.853_981_634e-11),
        tolerance: 0.03,
        source: "3.5 mL/(198.7 m/s × π/4 × (10 µm)²), by hand",
    },
    FirstCheck {
        id: "syringe-1ml",
        quantity: FirstQuantity::EmptyingTime { um: 5.0 },
        value: 12.8,
        tolerance: 0.03,
        source: "table of time constants, 0.05 mL and 5 µm (common practice)",
    },
    FirstCheck {
        id: "ampoule-2ml",
        quantity: FirstQuantity::RiseOfLeak { um: 10.0 },
        value: 343.0,
        tolerance: 0.05,
        source: "15 199 Pa × (e^(-1.6/76.9) - e^(-3.4/76.9)), by hand",
    },
    FirstCheck {
        id: "blow-fill-seal-5ml",
        quantity: FirstQuantity::Ceiling,
        value: 101_325.0 * 1.5 / (1.5 + 12.0),
        tolerance: 1e-9,
        source: "1 atm × 1.5 mL/(1.5 mL + 12 mL), by hand",
    },
    FirstCheck {
        id: "bag-250ml",
        quantity: FirstQuantity::RiseOfLeak { um: 50.0 },
        value: 1556.0,
        tolerance: 0.05,
        source: "13 510 Pa × (e^(-7.05/102.5) - e^(-20.55/102.5)), by hand",
    },
    FirstCheck {
        id: "tray-lidded",
        quantity: FirstQuantity::EmptyingTime { um: 100.0 },
        value: 80.0e-6 / (198.7 * 7.853_981_634e-9),
        tolerance: 0.03,
        source: "80 mL/(198.7 m/s × π/4 × (100 µm)²), by hand; at 400 mbar below the room the hole is \
                 not choked and passes about two thirds of it",
    },
    FirstCheck {
        id: "bottle-100ml",
        quantity: FirstQuantity::EmptyingTime { um: 50.0 },
        value: 70.0e-6 / (198.7 * 1.963_495_408e-9),
        tolerance: 0.03,
        source: "70 mL/(198.7 m/s × π/4 × (50 µm)²), by hand; at 500 mbar below the room the hole \
                 passes about four fifths of it",
    },
    FirstCheck {
        id: "syringe-ageing",
        quantity: FirstQuantity::EmptyingTime { um: 10.0 },
        value: 12.8,
        tolerance: 0.03,
        source: "table of time constants, 0.2 mL and 10 µm (common practice)",
    },
    FirstCheck {
        id: "three-sites",
        quantity: FirstQuantity::RiseOfLeak { um: 10.0 },
        value: 213.0,
        tolerance: 0.15,
        source: "published: 224.5 Pa with 10 µm holes less 11.5 Pa without, means of sites 2 and 3 \
                 (PDA J. Pharm. Sci. Technol., 2009); free volume over measuring time is inferred \
                 from the 55 Pa of the 5 µm holes, so that the 10 µm holes are the check",
    },
];

/// The number to check first in a worked case; `None` for another case.
#[must_use]
pub fn first_check(id: &str) -> Option<FirstCheck> {
    CHECKS.iter().find(|check| check.id == id).copied()
}

impl FirstCheck {
    /// What it is, in plain words.
    #[must_use]
    pub fn words(&self) -> String {
        match self.quantity {
            FirstQuantity::EmptyingTime { um } => {
                format!("time in which a {um} µm leak empties the headspace to 1/e, s")
            }
            FirstQuantity::Ceiling => "rise if the whole headspace emptied, Pa".to_owned(),
            FirstQuantity::RiseOfLeak { um } => {
                format!("rise of a {um} µm leak above a tight unit, Pa")
            }
        }
    }

    /// What a forecast gives for it; `None` where it says nothing of it.
    #[must_use]
    pub fn forecast_value(&self, forecast: &Forecast) -> Option<f64> {
        match self.quantity {
            FirstQuantity::Ceiling => Some(forecast.headspace.ceiling_pa),
            FirstQuantity::EmptyingTime { um } => forecast
                .headspace
                .emptying
                .iter()
                .find(|(size_um, _)| (size_um - um).abs() < 1e-9)
                .map(|(_, seconds)| *seconds),
            FirstQuantity::RiseOfLeak { um } => {
                let rise = rise_at(forecast, um)?;
                Some(rise - forecast.tight_rise_pa)
            }
        }
    }
}

/// Rise at a size, between the points of the forecast on logarithmic axes.
fn rise_at(forecast: &Forecast, um: f64) -> Option<f64> {
    let after = forecast.detection.iter().position(|point| point.flow_equivalent_um >= um)?;
    let (low, high) = (forecast.detection.get(after.checked_sub(1)?)?, &forecast.detection[after]);
    let (x0, x1) = (low.flow_equivalent_um, high.flow_equivalent_um);
    let (y0, y1) = (low.rise_pa?, high.rise_pa?);
    let part = digits::scalar::ln(um / x0) / digits::scalar::ln(x1 / x0);
    Some(digits::scalar::exp(digits::scalar::ln(y0) * (1.0 - part) + digits::scalar::ln(y1) * part))
}

//! Budgets of the shelf life, each turned into the widest channel that keeps it.
//!
//! What comes in is counted twice over where it could come in two ways, by flow
//! and by diffusion: the sum is never less than the truth and at most twice it,
//! so the leak allowed errs to the small side.

use digits::scalar::{exp, ln, pow};
use physics::gases::Gas;
use physics::ingress::{ChannelDiffusion, pressure_after_inflow};
use physics::leak_paths::{FlowConditions, LeakPath, LeakPathError};
use physics::liquids::Liquid;
use physics::quantities::{
    AbsolutePressure, Length, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R, Temperature,
};

use super::{Route, RouteKind, RouteOutcome, StorageBudget, StorageError, allowed};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::wording::rounded;

/// Oxygen in dry air, mole fraction (common practice).
const OXYGEN_IN_AIR: f64 = 0.2095;
/// Diffusion of oxygen in nitrogen or air at 25 °C and 1 atm, m²/s (from memory;
/// reference note, 8).
const OXYGEN_M2_PER_S: f64 = 2.05e-5;
/// Diffusion of water vapour in air at 25 °C and 1 atm, m²/s (from memory).
const WATER_M2_PER_S: f64 = 2.5e-5;
/// Growth of a diffusion coefficient of gases with temperature, `D ∝ T^1.75/p`
/// (Fuller's rule, from memory).
const DIFFUSION_EXPONENT: f64 = 1.75;
/// Molar mass of water, kg/mol.
const WATER_KG_PER_MOL: f64 = 0.018_015_268;
/// Narrowest and widest channel that is looked at, m.
const NARROWEST_M: f64 = 1.0e-9;
const WIDEST_M: f64 = 1.0e-3;

/// The routes for which a budget is given.
pub(super) fn routes(
    input: &CaseInput,
    storage: &StorageBudget,
    notes: &mut Vec<Note>,
) -> Result<Vec<Route>, StorageError> {
    let asked = [
        storage.headspace_pressure.is_some(),
        storage.oxygen_fraction.is_some(),
        storage.water_kg.is_some(),
        storage.liquid_loss_kg.is_some(),
    ];
    if storage.shelf_life.s() <= 0.0 {
        return if asked.contains(&true) {
            Err(StorageError::NotPositive { what: "shelf life, s", value: 0.0 })
        } else {
            Ok(Vec::new())
        };
    }
    let store = Store { input, storage };
    let days = rounded(storage.shelf_life.s() / 86_400.0);
    let mut routes = Vec::new();
    if let Some(limit) = storage.headspace_pressure {
        routes.push(Route {
            kind: RouteKind::HeadspacePressure,
            requirement: format!(
                "headspace at or below {} mbar after {days} d",
                rounded(limit.pa() / 100.0)
            ),
            outcome: store.pressure(limit)?,
            basis: "inflow of air through the channel by the law for all regimes, at constant \
                    temperature"
                .to_owned(),
        });
    }
    if let Some(limit) = storage.oxygen_fraction {
        routes.push(Route {
            kind: RouteKind::Oxygen,
            requirement: format!("oxygen at or below {} % after {days} d", rounded(limit * 100.0)),
            outcome: store.oxygen(limit, notes)?,
            basis: "diffusion through the channel (molecular and Knudsen in series, coefficient \
                    from memory) and, below room pressure, inflow of air; nothing is taken up by \
                    the product"
                .to_owned(),
        });
    }
    if let Some(limit) = storage.water_kg {
        let humidity = storage.relative_humidity;
        routes.push(Route {
            kind: RouteKind::Moisture,
            requirement: format!(
                "at most {} mg of water after {days} d at {} % humidity",
                rounded(limit * 1.0e6),
                rounded(humidity * 100.0)
            ),
            outcome: store.water(limit)?,
            basis: "vapour of the room diffuses in against a dry inside (an upper bound), with \
                    inflow of humid air below room pressure"
                .to_owned(),
        });
    }
    if let Some(limit) = storage.liquid_loss_kg {
        routes.push(Route {
            kind: RouteKind::LiquidLoss,
            requirement: format!(
                "at most {} mg of water lost as vapour after {days} d",
                rounded(limit * 1.0e6)
            ),
            outcome: store.liquid_loss(limit)?,
            basis: "vapour of the saturated headspace diffuses out; liquid that runs or creeps \
                    through a wetted leak is not in it (isobar leak --liquid)"
                .to_owned(),
        });
    }
    Ok(routes)
}

/// The budgets that a channel of this bore breaks, in plain words. One look at
/// each, where [`routes`] searches the widest that keeps it.
pub(super) fn broken_by(
    input: &CaseInput,
    storage: &StorageBudget,
    bore: Length,
) -> Result<Vec<&'static str>, StorageError> {
    let store = Store { input, storage };
    let mut broken = Vec::new();
    if storage.shelf_life.s() <= 0.0 {
        return Ok(broken);
    }
    if let Some(limit) = storage.headspace_pressure
        && limit.pa() > store.start().pa()
        && store.pressure_at_expiry(bore)?.pa() > limit.pa()
    {
        broken.push("headspace pressure");
    }
    // A headspace that holds oxygen from the start has no such budget.
    if let Some(limit) = storage.oxygen_fraction
        && !matches!(input.profile.headspace.gas, Gas::Air | Gas::Oxygen)
        && store.oxygen_at_expiry(bore)? > limit
    {
        broken.push("oxygen");
    }
    if let Some(limit) = storage.water_kg {
        let outside = storage.relative_humidity * vapour_pa(storage.temperature)?;
        if store.water_at_expiry_kg(bore, outside)? > limit {
            broken.push("moisture");
        }
    }
    if let Some(limit) = storage.liquid_loss_kg {
        let drop = vapour_pa(storage.temperature)? * (1.0 - storage.relative_humidity);
        if store.water_diffused_kg(bore, drop) > limit {
            broken.push("liquid loss");
        }
    }
    Ok(broken)
}

/// The container in its store.
struct Store<'a> {
    input: &'a CaseInput,
    storage: &'a StorageBudget,
}

impl Store<'_> {
    fn path(&self, bore: Length) -> LeakPath {
        LeakPath::Channel { bore_diameter: bore, wall: self.input.profile.container.wall.value }
    }

    fn start(&self) -> AbsolutePressure {
        self.input.profile.headspace.pressure.value
    }

    /// Headspace pressure at expiry behind a channel.
    fn pressure_at_expiry(&self, bore: Length) -> Result<AbsolutePressure, LeakPathError> {
        if self.start().pa() >= self.storage.room.pa() {
            return Ok(self.start());
        }
        let conditions = FlowConditions {
            gas: Gas::Air,
            upstream: self.storage.room,
            downstream: self.start(),
            temperature: self.storage.temperature,
        };
        pressure_after_inflow(
            &self.path(bore),
            &conditions,
            self.input.profile.headspace.volume.value,
            self.storage.shelf_life,
        )
    }

    /// Diffusion through a channel; in thin gas it is faster, so the lower of the
    /// pressures on both sides counts.
    fn diffusion(&self, gas: Gas, at_25_c: f64, bore: Length) -> ChannelDiffusion {
        let lower = self.start().pa().min(self.storage.room.pa()).max(1.0);
        let warmth = pow(self.storage.temperature.k() / 298.15, DIFFUSION_EXPONENT);
        ChannelDiffusion {
            bore,
            wall: self.input.profile.container.wall.value,
            gas,
            mutual_m2_per_s: at_25_c * warmth * 101_325.0 / lower,
            temperature: self.storage.temperature,
        }
    }

    fn pressure(&self, limit: AbsolutePressure) -> Result<RouteOutcome, StorageError> {
        if limit.pa() <= self.start().pa() {
            return Ok(RouteOutcome::NoLeak(format!(
                "the headspace begins at {} mbar, at or above the limit",
                rounded(self.start().pa() / 100.0)
            )));
        }
        self.widest(limit.pa(), |bore| Ok(self.pressure_at_expiry(bore)?.pa()))
    }

    fn oxygen(&self, limit: f64, notes: &mut Vec<Note>) -> Result<RouteOutcome, StorageError> {
        let headspace = &self.input.profile.headspace;
        if matches!(headspace.gas, Gas::Air | Gas::Oxygen) {
            notes.push(Note::caution(
                "oxygen-from-the-start",
                "the headspace holds oxygen from the start, so a budget of oxygen limits no leak",
                "leave the oxygen budget out, or state the gas that is really sealed in",
            ));
            return Ok(RouteOutcome::NoLeak("the headspace is not free of oxygen".to_owned()));
        }
        self.widest(limit, |bore| self.oxygen_at_expiry(bore))
    }

    /// Share of oxygen at expiry behind a channel.
    fn oxygen_at_expiry(&self, bore: Length) -> Result<f64, LeakPathError> {
        let end = self.pressure_at_expiry(bore)?.pa();
        let carried = OXYGEN_IN_AIR * (end - self.start().pa()) / end;
        let diffused = self.diffusion(Gas::Oxygen, OXYGEN_M2_PER_S, bore).fraction_after(
            OXYGEN_IN_AIR,
            0.0,
            self.input.profile.headspace.volume.value,
            self.storage.shelf_life,
        );
        Ok((carried + diffused).min(OXYGEN_IN_AIR))
    }

    /// Water that diffuses through a channel under a difference of its pressure, kg.
    fn water_diffused_kg(&self, bore: Length, difference_pa: f64) -> f64 {
        let conductance =
            self.diffusion(Gas::WaterVapour, WATER_M2_PER_S, bore).conductance().m3_per_s();
        let per_volume = difference_pa * WATER_KG_PER_MOL / (R * self.storage.temperature.k());
        conductance * per_volume * self.storage.shelf_life.s()
    }

    fn water(&self, limit_kg: f64) -> Result<RouteOutcome, StorageError> {
        let outside = self.storage.relative_humidity * vapour_pa(self.storage.temperature)?;
        self.widest(limit_kg, |bore| self.water_at_expiry_kg(bore, outside))
    }

    /// Water at expiry behind a channel, kg; `outside` is its pressure in the room.
    fn water_at_expiry_kg(&self, bore: Length, outside: f64) -> Result<f64, LeakPathError> {
        let volume = self.input.profile.headspace.volume.value.m3();
        let gained = (self.pressure_at_expiry(bore)?.pa() - self.start().pa()).max(0.0);
        let carried = gained * volume / (R * self.storage.temperature.k()) * outside
            / self.storage.room.pa()
            * WATER_KG_PER_MOL;
        Ok(carried + self.water_diffused_kg(bore, outside))
    }

    fn liquid_loss(&self, limit_kg: f64) -> Result<RouteOutcome, StorageError> {
        let saturated = vapour_pa(self.storage.temperature)?;
        let drop = saturated * (1.0 - self.storage.relative_humidity);
        self.widest(limit_kg, |bore| Ok(self.water_diffused_kg(bore, drop)))
    }

    /// The widest channel with which a figure that grows with the bore stays at
    /// or below its limit.
    fn widest(
        &self,
        limit: f64,
        figure: impl Fn(Length) -> Result<f64, LeakPathError>,
    ) -> Result<RouteOutcome, StorageError> {
        let at = |log_m: f64| figure(Length::from_m(exp(log_m)));
        let (low, high) = (ln(NARROWEST_M), ln(WIDEST_M));
        if at(high)? <= limit {
            return Ok(RouteOutcome::AnyLeak);
        }
        if at(low)? > limit {
            return Ok(RouteOutcome::NoLeak(
                "even a channel of a nanometre breaks the budget".to_owned(),
            ));
        }
        let found = digits::roots::between(low, high, 1.0e-9, |log_m| {
            at(log_m).map_or(f64::NAN, |value| value - limit)
        });
        let Some(log_m) = found else {
            return Ok(RouteOutcome::NoLeak("no channel meets the budget exactly".to_owned()));
        };
        let wall = self.input.profile.container.wall.value;
        Ok(RouteOutcome::Leak(allowed(Length::from_m(exp(log_m)), wall)?))
    }
}

/// Vapour pressure of water in the store, Pa.
fn vapour_pa(temperature: Temperature) -> Result<f64, StorageError> {
    Liquid::Water
        .at(temperature)
        .map(|state| state.vapour_pressure.pa())
        .map_err(|_| StorageError::StoreTemperature { celsius: temperature.celsius() })
}

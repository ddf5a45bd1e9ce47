//! Maximum allowable leakage limit: the routes that lead to one, side by side,
//! and the gap between what is needed and what the test can see.
//!
//! Each route asks how large a single straight channel through the wall of the
//! container may be. The channel is then told as its flow at the reference state,
//! so that all routes stand on one scale.

mod budget;
mod literature;
mod storage;

pub(crate) use literature::named_sizes;
pub use literature::{LITERATURE, LiteratureMark};
pub use storage::StorageError;

pub use crate::storage_budget::StorageBudget;

use physics::gases::Gas;
use physics::ingress::{air_conductance_from_helium, pressure_after_effusion};
use physics::leak_paths::{
    FlowConditions, LeakPath, LeakPathError, channel_bore_for_flow, reference_conditions,
};
use physics::quantities::{AbsolutePressure, Duration, Length, Throughput};

use crate::case_input::CaseInput;
use crate::forecast::{Forecast, LeakSize, mall_at_reference};
use crate::notes::Note;
use crate::profile::{Headspace, LeakStatement};
use crate::wording::rounded;

/// Helium flow of 1 atm to vacuum that the trade takes for inherent integrity
/// against microbes, Pa·m³/s of gas at 20 °C. Source: Kirsch and others 1997 and
/// USP <1207> (both from memory).
pub const INHERENT_INTEGRITY_HELIUM_PA_M3_PER_S: f64 = 6.0e-7;

/// A way to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RouteKind {
    /// Stated with the question.
    Stated,
    /// Pressure of the headspace over shelf life.
    HeadspacePressure,
    /// Oxygen in the headspace over shelf life.
    Oxygen,
    /// Water taken up over shelf life.
    Moisture,
    /// Liquid lost as vapour over shelf life.
    LiquidLoss,
    /// The helium figure for inherent integrity.
    InherentIntegrity,
}

impl RouteKind {
    /// The words that are printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stated => "stated with the question",
            Self::HeadspacePressure => "headspace pressure",
            Self::Oxygen => "oxygen",
            Self::Moisture => "moisture",
            Self::LiquidLoss => "liquid loss",
            Self::InherentIntegrity => "inherent integrity (helium)",
        }
    }
}

/// The largest leak that a route allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AllowedLeak {
    /// The leak at the reference state.
    pub size: LeakSize,
    /// Bore of the one straight channel through the wall.
    pub channel_bore: Length,
    /// Helium through the same channel, 1 atm to vacuum at 20 °C, by the law run
    /// with helium.
    pub helium: Throughput,
}

/// What a route comes to.
#[derive(Debug, Clone, PartialEq)]
pub enum RouteOutcome {
    /// A largest leak.
    Leak(AllowedLeak),
    /// Even the widest channel that is looked at keeps the budget.
    AnyLeak,
    /// No leak, however small, keeps it; why.
    NoLeak(String),
}

/// One route with its outcome.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// Which.
    pub kind: RouteKind,
    /// What is asked of the container, in one sentence.
    pub requirement: String,
    /// The largest leak that keeps it.
    pub outcome: RouteOutcome,
    /// Where figures and model come from, and how far to trust them.
    pub basis: String,
}

impl Route {
    /// The leak, where the route ends in one.
    #[must_use]
    pub const fn leak(&self) -> Option<&AllowedLeak> {
        match &self.outcome {
            RouteOutcome::Leak(leak) => Some(leak),
            _ => None,
        }
    }
}

/// What the helium figure for sterility means for a container under vacuum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VacuumStatement {
    /// Time constant with which such a leak fills the headspace.
    pub time_constant: Duration,
    /// Headspace pressure at the end of the shelf life with such a leak; at the
    /// start where no shelf life is stated.
    pub pressure_after: AbsolutePressure,
    /// The same time constant for a leak of the limit that came with the question,
    /// by its flow of air at the reference state; `None` where none is stated in air.
    pub stated_time_constant: Option<Duration>,
}

impl VacuumStatement {
    /// In one sentence, without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let stated = self.stated_time_constant.map_or_else(String::new, |time| {
            format!("; a leak of the stated limit fills it with one of {}", spelled(time))
        });
        format!(
            "a leak at the helium figure for sterility (6e-6 mbar·L/s) fills this headspace with a \
             time constant of {}{stated}: a test that finds such leaks does not show that the vacuum \
             keeps",
            spelled(self.time_constant)
        )
    }
}

impl VacuumStatement {
    /// In as few words as beside a drawing.
    #[must_use]
    pub fn short(&self) -> String {
        let stated = self
            .stated_time_constant
            .map_or_else(String::new, |time| format!(", a leak of the limit in {}", spelled(time)));
        format!(
            "time constants: the helium figure for sterility fills it in {}{stated}",
            spelled(self.time_constant)
        )
    }
}

/// A time in the unit that suits it.
fn spelled(time: Duration) -> String {
    match time.s() {
        s if s < 120.0 => format!("{} s", rounded(s)),
        s if s < 7200.0 => format!("{} min", rounded(s / 60.0)),
        s if s < 172_800.0 => format!("{} h", rounded(s / 3600.0)),
        s => format!("{} d", rounded(s / 86_400.0)),
    }
}

/// What is to be said apart of a container sealed below the pressure of the room;
/// `None` where it is not.
#[must_use]
pub fn sealed_under_vacuum(input: &CaseInput) -> Option<VacuumStatement> {
    under_vacuum(input, &input.storage_or_room())
}

/// The same as a note beside a forecast.
pub(crate) fn vacuum_note(input: &CaseInput) -> Option<Note> {
    sealed_under_vacuum(input).map(|vacuum| {
        Note::remark(
            "sealed-under-vacuum",
            format!("sealed under vacuum: {}", vacuum.sentence()),
            "argue the vacuum over shelf life by the headspace pressure of units at its end, and \
             state it as a storage budget",
        )
    })
}

/// Between what is needed and what the test sees.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Smallest leak that a route allows, flow-equivalent µm.
    pub needed_um: f64,
    /// Smallest leak that the forecast finds, flow-equivalent µm.
    pub seen_um: Option<f64>,
    /// Plain words.
    pub sentence: String,
}

/// The routes side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct MallRoutes {
    /// In the order of the enumeration; only those that were asked for.
    pub routes: Vec<Route>,
    /// Place of the route that allows least, among those with a leak.
    pub governing: Option<usize>,
    /// For containers sealed below room pressure.
    pub under_vacuum: Option<VacuumStatement>,
    /// Between need and sight.
    pub gap: Option<Gap>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

/// Works out every route that the case and the budget allow.
///
/// # Errors
/// A budget without meaning, or a leak outside the flow law.
pub fn mall_routes(
    input: &CaseInput,
    storage: &StorageBudget,
    forecast: Option<&Forecast>,
) -> Result<MallRoutes, StorageError> {
    storage::check(storage)?;
    let mut notes = Vec::new();
    let mut routes: Vec<Route> = stated(input, &mut notes)?.into_iter().collect();
    routes.extend(budget::routes(input, storage, &mut notes)?);
    routes.push(inherent(input)?);
    let governing = routes
        .iter()
        .enumerate()
        .filter(|(_, route)| route.kind != RouteKind::InherentIntegrity)
        .filter_map(|(place, route)| Some((place, route.leak()?.size.flow_equivalent_diameter)))
        .min_by(|a, b| a.1.m().total_cmp(&b.1.m()))
        .map(|(place, _)| place);
    let gap = governing
        .and_then(|place| routes.get(place)?.leak())
        .map(|leak| gap(leak.size.flow_equivalent_diameter.um(), forecast));
    let under_vacuum = under_vacuum(input, storage);
    general_notes(input, storage, &mut notes);
    Ok(MallRoutes { routes, governing, under_vacuum, gap, notes })
}

/// The routes of the storage budgets alone.
pub(crate) fn budget_routes(
    input: &CaseInput,
    storage: &StorageBudget,
) -> Result<Vec<Route>, StorageError> {
    storage::check(storage)?;
    let asked = Asked {
        storage: *storage,
        headspace: input.profile.headspace.clone(),
        wall: input.profile.container.wall.value,
    };
    // A lock that a panic has left behind holds whole entries all the same.
    let kept = || KEPT.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some((_, routes)) = kept().iter().find(|(known, _)| *known == asked) {
        return Ok(routes.clone());
    }
    let routes = budget::routes(input, storage, &mut Vec::new())?;
    let mut kept = kept();
    if kept.len() >= MOST_KEPT {
        kept.remove(0);
    }
    kept.push((asked, routes.clone()));
    Ok(routes)
}

/// All that the routes of the budgets depend on.
#[derive(PartialEq)]
struct Asked {
    storage: StorageBudget,
    headspace: Headspace,
    wall: Length,
}

/// The routes last worked out. Every page draws the ladder, and a search for the
/// widest channel takes a tenth of a second; the same question has the same digits.
static KEPT: std::sync::Mutex<Vec<(Asked, Vec<Route>)>> = std::sync::Mutex::new(Vec::new());
const MOST_KEPT: usize = 64;

/// What the storage budgets of a case ask beyond the limit that came with its
/// question: a test that finds the stated leak has then not answered for the
/// shelf life. How small a leak they allow is for [`mall_routes`] to say.
///
/// `None` where no limit or no budget is stated, where the budgets allow as much,
/// and where they cannot be worked out ([`mall_routes`] says why).
#[must_use]
pub fn asked_beyond_stated(input: &CaseInput) -> Option<Note> {
    let storage = input.storage?;
    storage::check(&storage).ok()?;
    let stated = stated(input, &mut Vec::new()).ok()??;
    let leak = stated.leak()?;
    let broken = budget::broken_by(input, &storage, leak.channel_bore).ok()?;
    (!broken.is_empty()).then(|| {
        Note::caution(
            "budget-asks-for-more",
            format!(
                "a leak of the stated limit, {} µm flow-equivalent, breaks the storage budget \
                 within {} d ({}): finding it says nothing of the shelf life",
                rounded(leak.size.flow_equivalent_diameter.um()),
                rounded(storage.shelf_life.s() / 86_400.0),
                broken.join(", ")
            ),
            "argue the shelf life otherwise (seal quality, headspace or tracer gas method on \
             samples), or state the limit that the budget asks for (isobar mall)",
        )
    })
}

/// The straight channel as a leak at the reference state.
fn allowed(bore: Length, wall: Length) -> Result<AllowedLeak, LeakPathError> {
    let path = LeakPath::Channel { bore_diameter: bore, wall };
    let air = path.flow(&reference_conditions())?.molar_flow;
    let state = reference_conditions();
    let helium = path.flow(&FlowConditions { gas: Gas::Helium, ..state })?.molar_flow;
    Ok(AllowedLeak {
        size: LeakSize::from_reference_flow(air)?,
        channel_bore: bore,
        helium: helium.throughput_at(state.temperature),
    })
}

/// The limit that came with the question.
fn stated(input: &CaseInput, notes: &mut Vec<Note>) -> Result<Option<Route>, LeakPathError> {
    let Some(mall) = &input.profile.mall else {
        notes.push(Note::caution(
            "no-limit-stated",
            "the question names no leak that matters",
            "choose one with the customer from the routes below",
        ));
        return Ok(None);
    };
    let wall = input.profile.container.wall.value;
    let leak = match mall_at_reference(mall)? {
        Some(size) => allowed(size.channel_bore(wall)?, wall)?,
        None => {
            let LeakStatement::HeliumFlow(flow) = mall.stated else { return Ok(None) };
            helium_leak(flow, wall)?
        }
    };
    Ok(Some(Route {
        kind: RouteKind::Stated,
        requirement: mall.reasoning.clone(),
        outcome: RouteOutcome::Leak(leak),
        basis: format!(
            "{}{}{}",
            mall.provenance.origin.word(),
            if mall.provenance.from.is_empty() { "" } else { ": " },
            mall.provenance.from
        ),
    }))
}

/// The channel through which a helium flow passes.
fn helium_leak(flow: Throughput, wall: Length) -> Result<AllowedLeak, LeakPathError> {
    let state = FlowConditions { gas: Gas::Helium, ..reference_conditions() };
    allowed(channel_bore_for_flow(flow.molar_flow(), wall, &state)?, wall)
}

/// The helium figure for inherent integrity, through this wall.
fn inherent(input: &CaseInput) -> Result<Route, LeakPathError> {
    let flow = Throughput::from_pa_m3_per_s(
        INHERENT_INTEGRITY_HELIUM_PA_M3_PER_S,
        reference_conditions().temperature,
    );
    Ok(Route {
        kind: RouteKind::InherentIntegrity,
        requirement: "helium at or below 6e-6 mbar·L/s, 1 atm to vacuum: no microbial ingress in \
                      immersion challenges of glass micropipettes"
            .to_owned(),
        outcome: RouteOutcome::Leak(helium_leak(flow, input.profile.container.wall.value)?),
        basis: "from memory: Kirsch and others 1997, and USP <1207>; an order of magnitude that \
                argues sterility, not retention of vacuum or gas. The size holds for one channel \
                through this wall"
            .to_owned(),
    })
}

/// What that figure means for a headspace below room pressure.
fn under_vacuum(input: &CaseInput, storage: &StorageBudget) -> Option<VacuumStatement> {
    let headspace = &input.profile.headspace;
    let start = headspace.pressure.value;
    if start.pa() >= 0.95 * storage.room.pa() {
        return None;
    }
    // So small a flow is molecular whatever its path: the square-root rule holds.
    let conductance = air_conductance_from_helium(
        INHERENT_INTEGRITY_HELIUM_PA_M3_PER_S,
        AbsolutePressure::from_atm(1.0),
    );
    let volume = headspace.volume.value;
    let stated =
        input.profile.mall.as_ref().and_then(|mall| mall_at_reference(mall).ok().flatten());
    Some(VacuumStatement {
        // V p / q with the flow q from 1 atm into vacuum: choked or molecular, the
        // inflow stays the same until the headspace is half full.
        stated_time_constant: stated.map(|size| {
            let flow = size.reference_throughput_pa_m3_per_s();
            Duration::from_s(volume.m3() * 101_325.0 / flow)
        }),
        time_constant: Duration::from_s(volume.m3() / conductance.m3_per_s()),
        pressure_after: pressure_after_effusion(
            storage.room,
            start,
            conductance,
            volume,
            storage.shelf_life,
        ),
    })
}

fn gap(needed_um: f64, forecast: Option<&Forecast>) -> Gap {
    let seen_um = forecast.and_then(|forecast| forecast.window.smallest).map(|edge| edge.um);
    let sentence = match (forecast, seen_um) {
        (None, _) => "what the test can see was not forecast".to_owned(),
        (_, None) => format!(
            "the limit asks for {} µm flow-equivalent; this test finds no size with the required \
             detection",
            rounded(needed_um)
        ),
        (_, Some(seen)) if seen <= needed_um => format!(
            "the limit asks for {} µm flow-equivalent; this test is forecast to find leaks from \
             {} µm: no gap",
            rounded(needed_um),
            rounded(seen)
        ),
        (_, Some(seen)) => format!(
            "the limit asks for {} µm flow-equivalent; this test is forecast to find leaks from \
             {} µm only. Leaks between the two, down to {} of the flow that is seen, must be \
             covered otherwise: by a tracer gas or headspace method on samples, and by control of \
             the seal (closure force, compression, crimp)",
            rounded(needed_um),
            rounded(seen),
            share(needed_um, seen)
        ),
    };
    Gap { needed_um, seen_um, sentence }
}

/// Ratio of two flows from their flow-equivalent diameters.
fn share(small_um: f64, large_um: f64) -> String {
    let ratio = (large_um / small_um) * (large_um / small_um);
    format!("1/{}", rounded(ratio))
}

fn general_notes(input: &CaseInput, storage: &StorageBudget, notes: &mut Vec<Note>) {
    notes.push(Note::remark(
        "one-channel",
        format!(
            "each budget is turned into one straight channel through {} mm of wall; many small \
             leaks, a gap along a seal or a permeable closure share the same budget",
            rounded(input.profile.container.wall.value.mm())
        ),
        "subtract what permeates the closure (isobar leak --membrane) from the budget first",
    ));
    notes.push(Note::caution(
        "not-sterility",
        "oxygen, moisture, vacuum and liquid budgets say nothing of microbes, and the microbial \
         figures say nothing of the budgets",
        "state for which of them the limit is meant; the smallest governs",
    ));
    if storage.shelf_life.s() <= 0.0 {
        notes.push(Note::caution(
            "no-shelf-life",
            "without a shelf life no budget can be worked out",
            "add --shelf-life 730d with --oxygen, --pressure, --moisture or --liquid-loss",
        ));
    }
}

//! The job itself, in the order of the work:
//! profile, forecast, method, plan and runs, results, claim, upkeep.
//!
//! ```text
//! let forecast = study::forecast(&input, &settings, &progress)?;
//! let method   = study::design_method(&input, &forecast);
//! let plan     = study::plan_runs(&input, &forecast, &settings);
//! let results  = study::evaluate(&input, &method, &runs);
//! let document = report::compose(&case);
//! ```
//!
//! Pure: no files, clock, network, terminal or unseeded chance. It cannot see
//! storage, paper or pages, so a case can be recomputed without any of them.

pub use physics::{PressureTrace, trace};
pub use physics::{cycle, gases, quantities, sensor};

pub mod case;
pub mod claim;
pub mod forecast;
pub mod ladder;
pub mod method;
pub mod notes;
pub mod plan;
pub mod profile;
pub mod provenance;
pub mod results;
pub mod rig;
pub mod runs;
pub mod segments;
pub mod summary_table;
pub mod trace_features;
pub mod upkeep;
pub mod worked_cases;

pub use case::{Case, CaseInput, Step};
pub use forecast::{Forecast, forecast};
pub use ladder::Ladder;
pub use method::{Method, design_method};
pub use notes::{Note, Weight};
pub use plan::{Plan, plan_runs};
pub use provenance::{Origin, Provenance, Sourced};
pub use results::{Results, evaluate};
pub use runs::{Run, simulate_runs};

pub(crate) use forecast::log_grid as forecast_grid;

//! The job itself, in the order of the work:
//! profile, forecast, method, plan and runs, results, claim, upkeep.
//!
//! ```text
//! let forecast = study::forecast(&input, &settings, &progress)?;
//! let method   = study::design_method(&input, &forecast);
//! let plan     = study::plan_runs(&input, &forecast, &settings);
//! let results  = study::evaluate(&input, &method, &runs);
//! let document = report::compose(&case, &edition)?;
//! ```
//!
//! Pure: no files, clock, network, terminal or unseeded chance. It cannot see
//! storage, paper or pages, so a case can be recomputed without any of them.

pub use physics::gases;
pub use physics::liquids;
pub use physics::quantities;
pub use physics::{PressureTrace, trace};

// In the order of the work: a module uses only those above it, which a test
// in `app` keeps.
mod wording;
pub mod notes;
pub mod provenance;
pub mod product_liquid;
pub mod container_strength;
mod check;
pub mod profile;
pub mod rig;
pub mod cycle;
pub mod uncertain_input;
pub mod storage_budget;
pub mod case_input;
pub mod container_load;
pub mod profile_gaps;
pub mod container_presets;
pub mod trace_features;
pub mod segments;
pub mod periodic_noise;
pub mod stages;
pub mod summary_table;
pub mod forecast;
pub mod mall;
pub mod design;
pub mod forensics;
pub mod run_features;
pub mod method;
pub mod method_choice;
pub mod unit_class;
pub mod run_factors;
pub mod criteria;
pub mod plan;
pub mod runs;
pub mod run_ending;
pub mod run_account;
pub mod results;
pub mod detection_bound;
pub mod criteria_judged;
pub mod limit_cost;
pub mod blank_chart;
pub mod rehearsal;
pub mod cycle_counters;
pub mod case;
pub mod claim;
pub mod ladder;
pub mod kept_records;
pub mod standards;
pub mod auditor_questions;
pub mod upkeep;
pub mod worked_cases;

/// The sensor of a rig, as it is stored and printed.
pub mod sensor {
    pub use physics::sensor::{PressureSensor, ZeroShift};
}

pub use case::{Case, Step};
pub use case_input::CaseInput;
pub use design::{Design, design};
pub use forecast::{Forecast, forecast};
pub use ladder::Ladder;
pub use mall::{MallRoutes, StorageBudget, mall_routes};
pub use method::{Method, design_method};
pub use notes::{Note, Weight};
pub use plan::{Plan, plan_runs};
pub use provenance::{Origin, Provenance, Sourced};
pub use rehearsal::{Rehearsal, rehearse};
pub use results::{Results, evaluate};
pub use runs::{Run, simulate_runs};

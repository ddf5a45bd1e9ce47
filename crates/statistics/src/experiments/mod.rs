//! Designed experiments: which factors move the result, and where it holds.

pub mod aliasing;
pub mod designs;
pub mod effects;
mod joint_t;
pub mod response_surface;
pub mod success;

pub use effects::{Effects, effects};
pub use response_surface::{Surface, response_surface};

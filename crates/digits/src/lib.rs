//! The same digits everywhere.
//!
//! Every room above this one takes its transcendental functions, sums and
//! random numbers from here, so that one input gives one answer on every
//! machine, thread count and build. A signed result can then be recomputed to
//! the last bit.
//!
//! This room knows nothing of leaks, statistics or files.

pub mod lanes;
pub mod normal;
pub mod random;
pub mod roots;
pub mod scalar;
pub mod sobol;
pub mod sums;

pub use random::RandomStream;

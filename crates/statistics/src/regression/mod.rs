//! Straight lines: fit, intervals, inverse prediction, detection limit.

pub mod detection_limit;
pub mod straight_line;

pub use detection_limit::{DetectionLimit, detection_limit};
pub use straight_line::{InversePrediction, Prediction, StraightLine, straight_line};

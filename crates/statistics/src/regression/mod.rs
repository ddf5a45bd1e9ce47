//! Calibration: lines and polynomials, their intervals, inverse prediction,
//! lack of fit, detection and quantitation limits, errors on both axes.

pub mod detection_limit;
pub mod errors_in_both;
pub mod lack_of_fit;
pub mod least_squares;
pub mod quantitation;
pub mod straight_line;
pub mod weighted_line;

pub use detection_limit::{DetectionLimit, detection_limit};
pub use lack_of_fit::{LackOfFit, lack_of_fit};
pub use least_squares::{LinearFit, least_squares, polynomial};
pub use straight_line::{InversePrediction, Prediction, StraightLine, straight_line};
pub use weighted_line::{WeightedLine, weighted_line};

//! Where pumping begins.

/// Share of the fall within which the room is left.
const FIRST_PART: f64 = 0.15;
/// The room is left for good below so many deviations of a sample,
const STANDS: f64 = 5.0;
/// or below this share of the fall: at the room a gauge may flicker more than low
/// in its range.
const STANDS_SHARE: f64 = 0.002;

/// The last sample before the pressure falls; zero where the record begins with
/// the fall.
pub(super) fn pumping_from(pressures: &[f64], fall: f64, noise: f64) -> usize {
    let start = pressures[0];
    let left = pressures.iter().position(|&value| value < start - FIRST_PART * fall).unwrap_or(0);
    let stands = start - (STANDS * noise).max(STANDS_SHARE * fall);
    pressures[..left].iter().rposition(|&value| value >= stands).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_at_the_room_is_no_pumping() {
        let waits = [1e5, 1.00001e5, 0.99999e5, 1e5, 9.7e4, 8e4, 6e4, 4e4];
        assert_eq!(pumping_from(&waits, 9e4, 1.0), 3);
        assert_eq!(pumping_from(&waits[3..], 9e4, 1.0), 0);
        assert_eq!(pumping_from(&[1e5, 1e3], 9e4, 1.0), 0);
    }
}

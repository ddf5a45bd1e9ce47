//! Creep: a container that goes on giving way takes volume from the chamber.

use super::circumstances::Circumstances;

/// Largest share of the pressure that creep can add: the volume that the
/// container takes from the chamber raises the pressure in proportion
/// (a working value; wider walls would have burst).
const LARGEST_SHARE: f64 = 0.1;

/// Whether creep can give a rise of this size at this pressure. Its shape is
/// the slow saturating one (standard linear solid).
pub(super) fn can_be(rise_pa: f64, pressure_pa: f64, circumstances: &Circumstances) -> bool {
    circumstances.yielding != Some(false) && rise_pa <= LARGEST_SHARE * pressure_pa
}

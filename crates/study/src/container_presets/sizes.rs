//! The list of containers.

use crate::profile::ContainerKind;

/// A container that a case can begin with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContainerPreset {
    /// Name by which it is asked for, such as `vial-10r`.
    pub name: &'static str,
    /// Kind of container.
    pub kind: ContainerKind,
    /// Nominal content, mL.
    pub nominal_ml: f64,
    /// Volume inside the closed container, mL; `None` where the bubble is set
    /// by the filling and not by the container.
    pub closed_ml: Option<f64>,
    /// Wall where a leak would sit, mm.
    pub wall_mm: f64,
    /// Largest width, mm.
    pub width_mm: f64,
    /// Height or length, mm.
    pub height_mm: f64,
    /// Container and closure in plain words.
    pub description: &'static str,
    /// Standard that its dimensions are of; `None` for a generic container.
    pub standard: Option<&'static str>,
}

impl ContainerPreset {
    /// Where the dimensions come from, in words for a provenance.
    #[must_use]
    pub fn source(&self) -> String {
        match self.standard {
            Some(standard) => format!(
                "{standard} (edition current in public catalogues in November 2026; dimensions from \
                 memory: check against the copy held)"
            ),
            None => "generic container, invented dimensions: replace by the drawing".to_owned(),
        }
    }

    /// Volume that the container takes up in a chamber, mL: a cylinder of its
    /// width and height, or a flat box for bags, pouches and trays.
    #[must_use]
    pub fn outside_ml(&self) -> f64 {
        match self.kind {
            ContainerKind::Bag | ContainerKind::Pouch | ContainerKind::Tray => {
                // The stated content and a thin wall are all that a flat
                // package takes up.
                self.closed_ml.unwrap_or(self.nominal_ml) * 1.05
            }
            _ => {
                let radius_cm = self.width_mm / 20.0;
                core::f64::consts::PI * radius_cm * radius_cm * self.height_mm / 10.0
            }
        }
    }
}

/// Rows of one standard: name, nominal mL, closed mL, wall, width, height.
type Row = (&'static str, f64, f64, f64, f64, f64);

/// ISO 8362-1:2018 (confirmed 2024), tubular glass vials: size designation, brimful capacity,
/// wall s1, d1 and h1. The stopper takes some of the brimful volume, which is
/// left to the uncertainty of the headspace.
const VIALS: [Row; 11] = [
    ("vial-2r", 2.0, 4.0, 1.0, 16.0, 35.0),
    ("vial-4r", 4.0, 6.0, 1.0, 16.0, 45.0),
    ("vial-6r", 6.0, 10.0, 1.0, 22.0, 40.0),
    ("vial-8r", 8.0, 11.5, 1.0, 22.0, 45.0),
    ("vial-10r", 10.0, 13.5, 1.0, 24.0, 45.0),
    ("vial-15r", 15.0, 19.0, 1.0, 24.0, 60.0),
    ("vial-20r", 20.0, 26.0, 1.2, 30.0, 55.0),
    ("vial-25r", 25.0, 32.5, 1.2, 30.0, 65.0),
    ("vial-30r", 30.0, 37.5, 1.2, 30.0, 75.0),
    ("vial-50r", 50.0, 62.0, 1.5, 40.0, 73.0),
    ("vial-100r", 100.0, 123.0, 1.7, 47.0, 100.0),
];

/// ISO 11040-4:2024 (which withdrew that of 2015), glass barrels: nominal, wall, outer diameter, barrel length.
/// The bubble is set by filling and stoppering.
const SYRINGES: [Row; 8] = [
    ("syringe-0.5ml", 0.5, 0.0, 1.1, 6.85, 47.6),
    ("syringe-1ml-long", 1.0, 0.0, 0.9, 8.15, 54.0),
    ("syringe-1ml-short", 1.0, 0.0, 1.1, 10.85, 35.7),
    ("syringe-2.25ml", 2.25, 0.0, 1.1, 10.85, 54.4),
    ("syringe-3ml", 3.0, 0.0, 1.1, 10.85, 72.2),
    ("syringe-5ml", 5.0, 0.0, 1.3, 14.45, 66.7),
    ("syringe-10ml", 10.0, 0.0, 1.4, 17.05, 87.25),
    ("syringe-20ml", 20.0, 0.0, 1.5, 22.05, 96.8),
];

/// ISO 9187-1:2010 (confirmed 2021), form B: nominal, volume when sealed, wall, body diameter,
/// height. The sealed volume depends on where the stem is drawn off.
const AMPOULES: [Row; 5] = [
    ("ampoule-1ml", 1.0, 1.9, 0.5, 10.75, 60.0),
    ("ampoule-2ml", 2.0, 3.2, 0.5, 10.75, 72.0),
    ("ampoule-5ml", 5.0, 7.4, 0.5, 14.75, 83.0),
    ("ampoule-10ml", 10.0, 13.5, 0.55, 17.75, 102.0),
    ("ampoule-20ml", 20.0, 25.5, 0.6, 22.5, 126.0),
];

/// ISO 13926-1:2018 (its successor was in final draft in 2026), glass cylinders
/// for pen-injectors; the standard recommends dimensions only.
const CARTRIDGES: [Row; 2] =
    [("cartridge-1.5ml", 1.5, 0.0, 0.9, 8.65, 57.0), ("cartridge-3ml", 3.0, 0.0, 1.0, 11.6, 63.0)];

/// Generic containers of our own.
const GENERIC: [(Row, ContainerKind, &str); 6] = [
    (
        ("blow-fill-seal-5ml", 5.0, 6.5, 0.8, 16.0, 70.0),
        ContainerKind::BlowFillSeal,
        "5 mL blow-fill-seal unit of low-density polyethylene",
    ),
    (
        ("bag-250ml", 250.0, 290.0, 0.2, 110.0, 200.0),
        ContainerKind::Bag,
        "250 mL flexible bag with two ports, held between plates",
    ),
    (
        ("pouch-100x150mm", 20.0, 35.0, 0.1, 100.0, 150.0),
        ContainerKind::Pouch,
        "flat pouch of 100 mm by 150 mm, four-sided seal",
    ),
    (
        ("tray-80x120mm", 60.0, 90.0, 0.5, 80.0, 120.0),
        ContainerKind::Tray,
        "thermoformed tray with a sealed lid, lid held by a mask",
    ),
    (
        ("bottle-100ml", 100.0, 125.0, 1.0, 48.0, 100.0),
        ContainerKind::Bottle,
        "100 mL bottle of high-density polyethylene with a screw cap",
    ),
    (
        ("bottle-500ml", 500.0, 560.0, 1.2, 75.0, 180.0),
        ContainerKind::Bottle,
        "500 mL bottle of high-density polyethylene with a screw cap",
    ),
];

/// Every container, by standard and size, generic ones last.
#[must_use]
pub fn all() -> Vec<ContainerPreset> {
    let standard = |kind, standard, description: &'static str| {
        move |row: &Row| preset(row, kind, description, Some(standard))
    };
    let vial = standard(
        ContainerKind::Vial,
        "ISO 8362-1:2018",
        "tubular glass vial, rubber stopper, aluminium crimp",
    );
    let syringe = standard(
        ContainerKind::Syringe,
        "ISO 11040-4:2024",
        "glass syringe barrel, plunger stopper, tip closure",
    );
    let ampoule = standard(
        ContainerKind::Ampoule,
        "ISO 9187-1:2010, form B",
        "glass ampoule, sealed by fusion of the stem",
    );
    let cartridge = standard(
        ContainerKind::Cartridge,
        "ISO 13926-1:2018",
        "glass cartridge, plunger stopper, crimped disc",
    );
    VIALS
        .iter()
        .map(vial)
        .chain(SYRINGES.iter().map(syringe))
        .chain(AMPOULES.iter().map(ampoule))
        .chain(CARTRIDGES.iter().map(cartridge))
        .chain(GENERIC.iter().map(|(row, kind, description)| preset(row, *kind, description, None)))
        .collect()
}

/// The container of this name, in either case of letters.
#[must_use]
pub fn find(name: &str) -> Option<ContainerPreset> {
    all().into_iter().find(|preset| preset.name.eq_ignore_ascii_case(name.trim()))
}

fn preset(
    &(name, nominal_ml, closed_ml, wall_mm, width_mm, height_mm): &Row,
    kind: ContainerKind,
    description: &'static str,
    standard: Option<&'static str>,
) -> ContainerPreset {
    ContainerPreset {
        name,
        kind,
        nominal_ml,
        closed_ml: (closed_ml > 0.0).then_some(closed_ml),
        wall_mm,
        width_mm,
        height_mm,
        description,
        standard,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_dimensions_hold_the_content() {
        let presets = all();
        for (index, preset) in presets.iter().enumerate() {
            assert!(presets[..index].iter().all(|other| other.name != preset.name));
            assert!(preset.closed_ml.is_none_or(|closed| closed > preset.nominal_ml));
            // A cylinder of the outer dimensions holds at least the content,
            // and not many times as much: a slip of the pen would show.
            let ratio = preset.outside_ml() / preset.closed_ml.unwrap_or(preset.nominal_ml);
            assert!((1.0..4.5).contains(&ratio), "{} {ratio}", preset.name);
            let inner_mm = preset.width_mm - 2.0 * preset.wall_mm;
            assert!(inner_mm > 0.5 * preset.width_mm);
            assert_eq!(find(&preset.name.to_uppercase()), Some(*preset));
        }
    }

    #[test]
    fn a_syringe_barrel_has_the_bore_of_its_plunger_force() {
        // Common practice: 3.2 N push the plunger of a 1 mL long syringe at
        // 1 atm difference, from its bore of 6.35 mm.
        let syringe = find("syringe-1ml-long").expect("in the list");
        let bore_m = (syringe.width_mm - 2.0 * syringe.wall_mm) / 1000.0;
        let force_n = 101_325.0 * core::f64::consts::PI * bore_m * bore_m / 4.0;
        assert!((force_n - 3.2).abs() < 0.05, "{force_n}");
    }
}

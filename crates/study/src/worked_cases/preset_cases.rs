//! Invented: cases that begin with a container of the list.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Length, Temperature, Volume};

use super::{invented, purpose, rig, tier};
use crate::case_input::CaseInput;
use crate::container_presets::{self, Contents};
use crate::profile::{Fill, LeakStatement, Mall, UseOfTest};
use crate::provenance::{Provenance, Sourced};

/// What tells one of these cases from another.
struct Scenario {
    id: &'static str,
    preset: &'static str,
    title: &'static str,
    question: &'static str,
    use_of_test: UseOfTest,
    population: &'static str,
    decision: &'static str,
    product: &'static str,
    fill: Fill,
    may_plug: bool,
    headspace_ml: f64,
    headspace_pa: f64,
    mall_um: f64,
    free_ml: f64,
    outgassing_pa_m3: f64,
    /// Evacuate to Pa, within s, settle s, measure s.
    tier: (f64, f64, f64, f64),
    tier_finds: &'static str,
}

fn case(scenario: &Scenario) -> CaseInput {
    let preset = container_presets::find(scenario.preset)
        .unwrap_or_else(|| unreachable!("containers here are of the list"));
    let contents = Contents {
        product: scenario.product.to_owned(),
        fill: scenario.fill,
        fill_volume: Volume::from_ml(0.0),
        may_plug: scenario.may_plug,
        gas: Gas::Air,
        headspace_pressure: AbsolutePressure::from_pa(scenario.headspace_pa),
        headspace_volume: Some(Volume::from_ml(scenario.headspace_ml)),
        use_of_test: scenario.use_of_test,
        mall: Some(Mall {
            stated: LeakStatement::FlowEquivalentDiameter(Length::from_um(scenario.mall_um)),
            reasoning: format!(
                "invented: defects from {} µm flow-equivalent are to be found",
                scenario.mall_um
            ),
            provenance: Provenance::assumed("invented customer request"),
        }),
    };
    let mut case = container_presets::begin(scenario.id, &preset, &contents)
        .unwrap_or_else(|_| unreachable!("headspaces here are constants"));
    case.title = scenario.title.to_owned();
    case.invented = true;
    case.question = scenario.question.to_owned();
    case.profile.purpose = purpose(scenario.use_of_test, scenario.population, scenario.decision);
    let headspace = &mut case.profile.headspace;
    headspace.volume = Sourced::new(headspace.volume.value, invented())
        .with_uncertainty_si(0.08 * headspace.volume.value.m3());
    headspace.pressure = Sourced::new(headspace.pressure.value, invented())
        .with_uncertainty_si(0.015 * headspace.pressure.value.pa());
    case.rig =
        rig(&format!("{} (invented)", case.rig.name), scenario.free_ml, scenario.outgassing_pa_m3);
    case.rig.pump = container_presets::begin_pump(scenario.free_ml);
    let (to_pa, limit_s, settle_s, measure_s) = scenario.tier;
    case.cycle.tiers[0].tier = tier(to_pa, limit_s, settle_s, measure_s);
    case.cycle.tiers[0].purpose = scenario.tier_finds.to_owned();
    case
}

/// A 2 mL ampoule in a test of every unit: seconds, and one tier.
#[must_use]
pub fn ampoule() -> CaseInput {
    case(&Scenario {
        id: "ampoule-2ml",
        preset: "ampoule-2ml",
        title: "2 mL glass ampoule, every unit tested",
        question: "Can every ampoule be tested in seconds for a crack of 10 µm flow-equivalent?",
        use_of_test: UseOfTest::FullInspection,
        population: "invented: every unit of one filling line",
        decision: "a unit above the limit is taken out",
        product: "invented watery solution",
        fill: Fill::Liquid,
        may_plug: false,
        headspace_ml: 1.2,
        headspace_pa: 101_325.0,
        mall_um: 10.0,
        free_ml: 8.0,
        outgassing_pa_m3: 1.5e-4,
        tier: (200.0, 3.0, 1.0, 2.0),
        tier_finds: "cracks through the headspace gas, in the pace of a line",
    })
}

/// A blow-fill-seal unit that comes warm from the mould.
#[must_use]
pub fn blow_fill_seal() -> CaseInput {
    let mut case = case(&Scenario {
        id: "blow-fill-seal-5ml",
        preset: "blow-fill-seal-5ml",
        title: "5 mL blow-fill-seal unit, warm from the mould",
        question: "Does the warmth of the unit hide a leak of 15 µm flow-equivalent?",
        use_of_test: UseOfTest::FullInspection,
        population: "invented: every unit of one machine",
        decision: "a unit above the limit is taken out",
        product: "invented eye drops",
        fill: Fill::Liquid,
        may_plug: false,
        headspace_ml: 1.5,
        headspace_pa: 101_325.0,
        mall_um: 15.0,
        free_ml: 12.0,
        outgassing_pa_m3: 1.5e-3,
        tier: (300.0, 4.0, 2.0, 4.0),
        tier_finds: "tears of the seal and thin spots, through the headspace gas",
    });
    // A wall that is still warm gives off more, and not the same every time.
    case.rig.wall_temperature = Temperature::from_celsius(32.0);
    case.rig.background_spread = 0.3;
    case
}

/// A bag between plates: large, soft, and tested at partial vacuum.
#[must_use]
pub fn bag() -> CaseInput {
    let mut case = case(&Scenario {
        id: "bag-250ml",
        preset: "bag-250ml",
        title: "250 mL infusion bag between plates",
        question: "Which leaks can be found in a soft bag that must be held between plates?",
        use_of_test: UseOfTest::Development,
        population: "invented development lots of one bag",
        decision: "whether vacuum decay may be proposed as the method at all",
        product: "invented infusion solution",
        fill: Fill::Liquid,
        may_plug: false,
        headspace_ml: 40.0,
        headspace_pa: 101_325.0,
        mall_um: 50.0,
        free_ml: 300.0,
        outgassing_pa_m3: 2.0e-2,
        tier: (20_000.0, 15.0, 6.0, 15.0),
        tier_finds: "punctures above the liquid, at a pressure that the seals stand",
    });
    case.rig.background_spread = 0.3;
    case
}

/// A tray whose lid is held by a mask, 400 mbar below the room.
#[must_use]
pub fn tray() -> CaseInput {
    case(&Scenario {
        id: "tray-lidded",
        preset: "tray-80x120mm",
        title: "Lidded tray for a device, lid held by a mask, 400 mbar below the room",
        question: "Can seal channels of 75 µm flow-equivalent be found at a vacuum this weak?",
        use_of_test: UseOfTest::Release,
        population: "invented lots of one packed device",
        decision: "a sample above the limit stops the lot for investigation",
        product: "invented device",
        fill: Fill::Dry,
        may_plug: false,
        headspace_ml: 80.0,
        headspace_pa: 101_325.0,
        mall_um: 75.0,
        free_ml: 120.0,
        outgassing_pa_m3: 1.0e-2,
        tier: (61_325.0, 10.0, 5.0, 10.0),
        tier_finds: "channels through the seal",
    })
}

/// A bottle with a screw cap, 500 mbar below the room.
#[must_use]
pub fn bottle() -> CaseInput {
    case(&Scenario {
        id: "bottle-100ml",
        preset: "bottle-100ml",
        title: "100 mL bottle with screw cap, 500 mbar below the room",
        question: "Does the screw cap close well enough to see a leak of 30 µm flow-equivalent?",
        use_of_test: UseOfTest::Stability,
        population: "invented stability lots of tablets",
        decision: "a unit above the limit is investigated as a leaking unit",
        product: "invented tablets",
        fill: Fill::Dry,
        may_plug: false,
        headspace_ml: 70.0,
        headspace_pa: 101_325.0,
        mall_um: 30.0,
        free_ml: 60.0,
        outgassing_pa_m3: 5.0e-3,
        tier: (51_325.0, 10.0, 5.0, 10.0),
        tier_finds: "leaks between cap and neck",
    })
}

/// A protein syringe whose leaks may close as they age.
#[must_use]
pub fn ageing_syringe() -> CaseInput {
    case(&Scenario {
        id: "syringe-ageing",
        preset: "syringe-1ml-long",
        title: "1 mL long syringe, protein solution, leaks that age",
        question: "Will a leak of 10 µm flow-equivalent still be found after months of storage?",
        use_of_test: UseOfTest::Stability,
        population: "invented stability lots of one product in 1 mL long syringes",
        decision: "a unit above the limit is investigated as a leaking unit",
        product: "invented protein solution of high concentration",
        fill: Fill::Liquid,
        may_plug: true,
        headspace_ml: 0.2,
        headspace_pa: 101_325.0,
        mall_um: 10.0,
        free_ml: 6.0,
        outgassing_pa_m3: 2.0e-4,
        tier: (100.0, 5.0, 2.0, 5.0),
        tier_finds: "leaks of some µm through the bubble",
    })
}

/// Empty holed syringes as in an open study of three sites. The study does not
/// state volume and times: 33 mL and 5 s are inferred from its readings of
/// 5 µm holes.
#[must_use]
pub fn three_sites() -> CaseInput {
    case(&Scenario {
        id: "three-sites",
        preset: "syringe-1ml-long",
        title: "Empty 1 mL syringes with laser-drilled holes, as in an open study of three sites",
        question: "Does the forecast give the readings that three laboratories published?",
        use_of_test: UseOfTest::Development,
        population: "invented copy of the conditions of a published study",
        decision: "whether the forecast may be believed for syringes",
        product: "empty",
        fill: Fill::Dry,
        may_plug: false,
        headspace_ml: 1.0,
        headspace_pa: 101_325.0,
        mall_um: 5.0,
        free_ml: 33.0,
        outgassing_pa_m3: 1.2e-3,
        tier: (100.0, 10.0, 3.0, 5.0),
        tier_finds: "holes of 5 to 15 µm",
    })
}

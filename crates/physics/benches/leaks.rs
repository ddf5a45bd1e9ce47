//! Speed of cycles by the kind of their leak, one at a time and in batches.
//!
//! Run: `cargo bench -p physics --bench leaks`. Figures count only beside others
//! of the same machine and minute.

use divan::Bencher;
use divan::counter::ItemsCount;
use physics::cycle::*;
use physics::gases::Gas;
use physics::leak_paths::LeakPath;
use physics::quantities::*;

fn main() {
    divan::main();
}

fn setup(leak: LeakPath) -> CycleSetup {
    let pa = AbsolutePressure::from_pa;
    CycleSetup {
        chamber: Chamber {
            free_volume: Volume::from_ml(60.0),
            wall_temperature: Temperature::from_celsius(23.0),
            thermal_recovery: Duration::from_s(0.3),
        },
        pump: Pump {
            speed: Conductance::from_m3_per_s(2e-4),
            line_molecular: Conductance::from_m3_per_s(5e-5),
            line_viscous_m3_per_s_pa: 2e-8,
            ultimate: pa(20.0),
        },
        background: Background {
            one_over_t: 6e-4,
            one_over_t_offset: Duration::from_s(1.0),
            constant: 0.0,
            virtual_leak: None,
        },
        headspace: Headspace {
            gas: Gas::Air,
            volume: Volume::from_ml(4.0),
            pressure: pa(101_325.0),
        },
        leak: Some(leak),
        ambient: pa(101_325.0),
        tiers: vec![Tier {
            evacuate_to: pa(100.0),
            evacuate_limit: Duration::from_s(10.0),
            reach_limit: None,
            settle: Duration::from_s(5.0),
            measure: Duration::from_s(10.0),
            rise_limit: None,
        }],
        sample_interval: Duration::from_s(0.02),
    }
}

fn path(kind: &str, um: f64) -> LeakPath {
    let (size, mm) = (Length::from_um(um), Length::from_mm);
    match kind {
        "orifice" => LeakPath::Orifice { bore_diameter: size },
        "channel" => LeakPath::Channel { bore_diameter: size, wall: mm(1.0) },
        "short" => LeakPath::Channel { bore_diameter: size, wall: size * 2.0 },
        "slit" => LeakPath::Slit { height: size * 0.2, width: mm(2.0), depth: mm(3.0) },
        _ => LeakPath::Annulus {
            mean_diameter: mm(13.0),
            gap: size * 0.1,
            depth: mm(5.0),
            eccentricity: 0.5,
        },
    }
}

const KINDS: [&str; 5] = ["orifice", "channel", "short", "slit", "annulus"];

#[divan::bench(args = KINDS)]
fn one_cycle(bencher: Bencher, kind: &str) {
    let setup = setup(path(kind, 5.0));
    bencher.counter(ItemsCount::new(1_u32)).bench(|| simulate(divan::black_box(&setup)));
}

#[divan::bench(args = KINDS)]
fn batch(bencher: Bencher, kind: &str) {
    let setups: Vec<CycleSetup> =
        (0..64).map(|k| setup(path(kind, 2.0 + 0.15 * f64::from(k)))).collect();
    bencher
        .counter(ItemsCount::new(setups.len()))
        .bench(|| simulate_batch(divan::black_box(&setups), true));
}

//! Fixture requirement and free-volume record.

use study::Case;

use super::signing::lines;
use super::wording::sentence;
use super::{Edition, profile};
use crate::document::{Block, Column, DataTable, KeyValue, Section, Style, Words};
use crate::number::{quantity, significant, stated, with_unit};

pub(super) fn sections(case: &Case, edition: &Edition) -> Vec<Section> {
    vec![
        free_volume(case),
        requirement(case),
        rig(case),
        files(edition),
        Section::new("signatures", "Signatures").with(lines([
            ("Author", "states what the chamber must be"),
            ("Maker or workshop", "confirms what was made"),
            ("Metrology", "confirms the free volume as recorded"),
        ])),
    ]
}

fn free_volume(case: &Case) -> Section {
    let free = &case.input.rig.free_volume;
    let measured = free.provenance.origin == study::Origin::Measured;
    let mut section = Section::new("free-volume", "Free volume").with(Block::KeyValues(vec![
        KeyValue::new("Chamber", case.input.rig.name.clone()),
        KeyValue::new(
            "Free volume with the container in place",
            with_unit(&stated(free.value.ml()), "mL"),
        ),
        KeyValue::new(
            "Standard uncertainty",
            free.standard_uncertainty_si
                .map_or("not stated".to_string(), |u| quantity(u * 1e6, 2, "mL")),
        ),
        KeyValue::new("Origin", profile::origin(&free.provenance)),
    ]));
    if !measured {
        section = section.paragraph(Words::default().strong("Missing: ").plain(
            "a measured free volume, by gas expansion against a known volume or from a known \
                 flow and the slope it gives (“isobar assess volume”).",
        ));
    }
    let mut table = DataTable::new(
        "volume-record",
        "Record of the measurement, to be filled in",
        vec![
            Column::words("Determination", 1.2),
            Column::words("Reading", 1.0),
            Column::words("Result (mL)", 1.0),
            Column::words("Date and initials", 1.0),
        ],
    );
    for name in [
        "Expansion, chamber empty",
        "Expansion, container or dummy in place",
        "Known flow and slope, container or dummy in place",
        "Repeat after the chamber was opened and closed",
    ] {
        table.push([name]);
    }
    section = section.with(Block::Table(table));
    section
}

fn requirement(case: &Case) -> Section {
    let rig = &case.input.rig;
    let mut table = DataTable::new(
        "fixture-requirement",
        "What the chamber must do, and from which value of the case",
        vec![
            Column::words("Requirement", 1.5),
            Column::words("Value", 1.0),
            Column::words("Why", 1.5),
        ],
    );
    table.push([
        "Holds the container".to_string(),
        sentence(&case.input.profile.container.description),
        "The leak site stays uncovered, moving parts are restrained.".to_string(),
    ]);
    table.push([
        "Free volume no larger than".to_string(),
        with_unit(&stated(rig.free_volume.value.ml()), "mL"),
        "Forecast and method hold for this volume; a larger one lowers the rise of every leak."
            .to_string(),
    ]);
    match &case.forecast {
        Some(forecast) => {
            table.push([
                "Rise with a tight container, at most".to_string(),
                quantity(forecast.rise_limit_pa, 3, "Pa"),
                "Rise limit of the forecast; chamber seals and dummy must stay below.".to_string(),
            ]);
            table.push([
                "Pressure reached with a tight container".to_string(),
                quantity(forecast.tight_reach_pa, 3, "Pa"),
                "Forecast for a tight unit at the end of the evacuation.".to_string(),
            ]);
        }
        None => table.push(["Rise with a tight container, at most", "missing: no forecast", ""]),
    }
    for (what, why) in [
        ("Port for a calibrated flow", "The chamber is challenged without a container."),
        ("Paths for the gas around the closure", "Tight gaps empty slowly and look like a leak."),
        ("Dummy or master unit without a leak", "It shows the background of the rig alone."),
        ("Can be cleaned and dried after a spill", "Moisture is background."),
        ("Identification on the chamber", "Results belong to one chamber."),
    ] {
        table.push([what, "to be confirmed", why]);
    }
    Section::new("requirement", "Fixture requirement").with(Block::Table(table))
}

fn rig(case: &Case) -> Section {
    let rig = &case.input.rig;
    let sensor = &rig.sensor;
    let zero_shift = sensor.zero_shift.map_or_else(
        || "not stated".to_string(),
        |shift| {
            format!(
                "{} per K, time constant {}",
                with_unit(&stated(shift.per_kelvin.pa()), "Pa"),
                with_unit(&stated(shift.lag.s()), "s")
            )
        },
    );
    Section::new("rig", "Rig as it stands in the case").with(Block::KeyValues(vec![
        KeyValue::new("Wall temperature", with_unit(&stated(rig.wall_temperature.celsius()), "°C")),
        KeyValue::new("Thermal recovery time", with_unit(&stated(rig.thermal_recovery.s()), "s")),
        KeyValue::new(
            "Lowest pressure of the pump",
            with_unit(&stated(rig.pump.ultimate.pa()), "Pa"),
        ),
        KeyValue::new(
            "Outgassing, 1/t part",
            format!("{} Pa·m³", significant(rig.background.one_over_t, 3)),
        ),
        KeyValue::new(
            "Outgassing, constant part",
            format!("{} Pa·m³/s", significant(rig.background.constant, 3)),
        ),
        KeyValue::new("Sensor range", with_unit(&stated(sensor.range.pa()), "Pa")),
        KeyValue::new("Sensor step", with_unit(&stated(sensor.resolution.pa()), "Pa")),
        KeyValue::new(
            "Sensor noise",
            format!(
                "white {}, slow {}",
                with_unit(&stated(sensor.white_noise.pa()), "Pa"),
                with_unit(&stated(sensor.flicker_noise.pa()), "Pa")
            ),
        ),
        KeyValue::new("Sensor zero shift", zero_shift),
        KeyValue::new("Origin of these figures", profile::origin(&rig.provenance)),
    ]))
}

fn files(edition: &Edition) -> Section {
    let section = Section::new("files", "Drawings and certificates kept with the case");
    let files = &edition.records.files;
    if files.is_empty() {
        return section.paragraph(
            Words::default()
                .strong("Missing: ")
                .plain("no drawing and no certificate is kept with this case."),
        );
    }
    let mut table = DataTable::new(
        "kept-files",
        "Files in the benchbook",
        vec![
            Column::words("File", 1.0),
            Column::words("What it is", 1.4),
            Column::short("SHA-256 (first 16)"),
        ],
    );
    for file in files {
        table.rows.push(vec![
            file.name.clone().into(),
            file.note.clone().into(),
            Words::default().and(file.sha256.chars().take(16).collect::<String>(), Style::Literal),
        ]);
    }
    section.with(Block::Table(table))
}

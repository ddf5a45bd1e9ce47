//! A long report: five hundred figures of traces, with text and tables, set as
//! PDF/A on some two hundred pages. Invented numbers.

use divan::Bencher;
use report::document::{
    Block, Column, DataTable, Document, DocumentKind, FigureBlock, Moment, Section,
};
use report::figure::{Axis, Dash, Figure, Ink, Layer, Pen, Shape};
use report::{Paper, typeset};

const SECTIONS: usize = 100;
const FIGURES_PER_SECTION: usize = 5;

fn main() {
    // The first time nothing is remembered; the typesetter keeps parts of it,
    // so that the samples below are quicker than any reader will see.
    let start = std::time::Instant::now();
    let pages = typeset(&long_report(), Paper::A4).map_or(0, |pdf| pages_of(&pdf));
    let first = start.elapsed().as_secs_f64();
    #[allow(clippy::print_stdout)]
    {
        println!(
            "{} figures on {pages} pages, set for the first time in {first:.2} s",
            SECTIONS * FIGURES_PER_SECTION
        );
    }
    divan::main();
}

/// Pages of a PDF by the largest count of its page tree, which is not
/// compressed in PDF/A of this typesetter; zero where that changes.
fn pages_of(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    text.split("/Count ")
        .skip(1)
        .filter_map(|rest| rest.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok())
        .max()
        .unwrap_or(0)
}

fn figure(number: usize) -> Option<FigureBlock> {
    let times: Vec<f64> = (0..400).map(|index| f64::from(index) * 0.05).collect();
    let rise = |slope: f64| -> Vec<f64> {
        times
            .iter()
            .map(|t| 20.0 + slope * t + (t * 37.0 + number as f64 * 0.618).fract())
            .collect()
    };
    let line = |label: &str, slope: f64, ink, dash| {
        Layer::new(
            label,
            Shape::Line { x: times.clone(), y: rise(slope), pen: Pen::new(ink, dash) },
        )
    };
    let mut figure = Figure::new(
        format!("run-{number}"),
        format!("Run {number}"),
        Axis::linear("Time", "s", 0.0, 20.0),
        Axis::linear("Chamber pressure", "Pa", 0.0, 100.0),
    )
    .described("Invented numbers.", "Two rising lines.")
    .with(Layer::new("settle", Shape::Stage { from: 0.0, to: 5.0 }))
    .with(line("tight unit", 0.8, Ink::Teal, Dash::Solid))
    .with(line("this run", 3.0, Ink::Rust, Dash::Dashed));
    figure.height_pt = 190.0;
    FigureBlock::of(&figure).ok()
}

fn long_report() -> Document {
    let sections = (0..SECTIONS).map(|number| {
        let mut table = DataTable::new(
            format!("table-{number}"),
            "Runs of this section",
            vec![Column::short("Unit"), Column::number("Rise (Pa)"), Column::words("Remark", 1.0)],
        );
        for row in 0..8 {
            table.push([format!("U{row}"), format!("{}", 12 + row), "as planned".to_owned()]);
        }
        let opening = Section::new(format!("part-{number}"), format!("Part {number}"))
            .paragraph("What was done, and what was seen in this part. ".repeat(12))
            .with(Block::Table(table));
        (0..FIGURES_PER_SECTION)
            .filter_map(|place| figure(number * FIGURES_PER_SECTION + place))
            .fold(opening, |section, figure| section.with(Block::Figure(figure)))
    });
    Document {
        kind: DocumentKind::Study,
        title: "A long report".to_owned(),
        identification: "long/study-report".to_owned(),
        version: "1".to_owned(),
        case_label: "long".to_owned(),
        invented: true,
        date_text: "2026-11-25 01:00 UTC".to_owned(),
        moment: Moment { year: 2026, month: 11, day: 25, hour: 1, minute: 0, second: 0 },
        sections: sections.collect(),
        cautions: vec!["Invented numbers.".to_owned()],
        sources: Vec::new(),
        checkpoint: None,
        digest: "fedcba9876543210".repeat(4),
        software: "Isobar".to_owned(),
        attachments: Vec::new(),
    }
}

#[divan::bench(sample_count = 3)]
fn five_hundred_figures(bencher: Bencher<'_, '_>) {
    let document = long_report();
    bencher.bench_local(|| typeset(&document, Paper::A4).map(|pdf| pdf.len()));
}

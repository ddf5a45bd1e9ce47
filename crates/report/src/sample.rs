//! An invented document with every kind of block, for the tests of both
//! printers.

use crate::document::{
    Attachment, Block, Checkpoint, Column, DataTable, Document, DocumentKind, FigureBlock,
    KeyValue, Moment, NoteBlock, NoteWeight, Section, SignatureLine, Source, Verdict, VerdictKind,
    Words,
};
use crate::figure::{Axis, Dash, Figure, Ink, Layer, Marker, Pen, SecondScale, Shape, Tick};
use crate::ladder_figure::{every_kind, ladder_figure};

/// A figure with every kind of layer.
pub(crate) fn figure_of_every_layer() -> Figure {
    let times: Vec<f64> = (0..3000).map(|index| f64::from(index) * 0.01).collect();
    let rise = |slope: f64| {
        times.iter().map(|t| 20.0 + slope * t + (t * 37.0).fract()).collect::<Vec<_>>()
    };
    let five: Vec<f64> = vec![5.0, 10.0, 15.0, 20.0, 25.0];
    let shifted = |by: f64| five.iter().map(|x| 2.0 * x + 30.0 + by).collect::<Vec<_>>();
    let mut figure = Figure::new(
        "every-layer",
        "Every kind of layer",
        Axis::linear("Time", "s", 0.0, 30.0),
        Axis::linear("Chamber pressure", "Pa", 0.0, 150.0),
    )
    .described("Invented numbers; each kind of layer once.", "A chart with every kind of layer.");
    figure.right = Some(SecondScale {
        label: "mbar".to_string(),
        ticks: vec![
            Tick { at: 50.0, label: "0.5".to_string() },
            Tick { at: 100.0, label: "1.0".to_string() },
        ],
    });
    let pen = |ink, dash| Pen::new(ink, dash);
    figure
        .with(Layer::new("evacuate", Shape::Stage { from: 0.0, to: 4.0 }))
        .with(Layer::new("settle", Shape::Stage { from: 4.0, to: 10.0 }))
        .with(Layer::new("measure", Shape::Stage { from: 10.0, to: 30.0 }))
        .with(Layer::new(
            "interval",
            Shape::Band {
                x: five.clone(),
                low: shifted(-8.0),
                high: shifted(8.0),
                ink: Ink::Slate,
            },
        ))
        .with(Layer::new(
            "tight",
            Shape::Line { x: times.clone(), y: rise(0.8), pen: pen(Ink::Teal, Dash::Solid) },
        ))
        .with(Layer::new(
            "5 µm leak",
            Shape::Line { x: times.clone(), y: rise(3.5), pen: pen(Ink::Rust, Dash::Dashed) },
        ))
        .with(Layer::new(
            "steps",
            Shape::Steps { x: five.clone(), y: shifted(30.0), pen: pen(Ink::Plum, Dash::DashDot) },
        ))
        .with(Layer::new(
            "units",
            Shape::Points {
                x: five.clone(),
                y: shifted(15.0),
                marker: Marker::OpenSquare,
                ink: Ink::Black,
            },
        ))
        .with(Layer::new(
            "means",
            Shape::ErrorBars {
                x: five.clone(),
                y: shifted(0.0),
                low: shifted(-6.0),
                high: shifted(9.0),
                marker: Marker::Disc,
                ink: Ink::Slate,
            },
        ))
        .with(Layer::new(
            "counts",
            Shape::Bars {
                edges: vec![1.0, 2.0, 3.0, 4.0],
                heights: vec![8.0, 14.0, 5.0],
                ink: Ink::Grey,
            },
        ))
        .with(Layer::new(
            "reject limit",
            Shape::HorizontalRule { at: 62.0, pen: pen(Ink::Black, Dash::Long) },
        ))
        .with(Layer::new(
            "end",
            Shape::VerticalRule { at: 28.0, pen: pen(Ink::Grey, Dash::Dotted) },
        ))
        .with(Layer::new("a word", Shape::Words { x: 6.0, y: 90.0 }))
}

/// A detection curve on a logarithmic axis.
pub(crate) fn log_figure() -> Figure {
    let x: Vec<f64> = (0..60).map(|index| 1.0 + f64::from(index) * 0.5).collect();
    let y: Vec<f64> = x.iter().map(|x| x * x * x / (40.0 + x * x * x)).collect();
    let mut figure = Figure::new(
        "log-figure",
        "Detection against size",
        Axis::logarithmic("Flow-equivalent diameter", "µm", 1.0, 30.0),
        Axis::linear("Probability of detection", "", 0.0, 1.0),
    )
    .described("Invented numbers.", "A rising curve.");
    figure.top = Some(SecondScale {
        label: "Flow of air (Pa·m³/s)".to_string(),
        ticks: [(2.5, "10⁻⁴"), (7.9, "10⁻³"), (25.0, "10⁻²")]
            .map(|(at, label)| Tick { at, label: label.to_string() })
            .to_vec(),
    });
    figure.with(Layer::new("curve", Shape::Line { x, y, pen: Pen::new(Ink::Slate, Dash::Solid) }))
}

/// Strings that would mean something in a markup language.
pub(crate) const MARKUP: &[&str] = &[
    "#read(\"/etc/passwd\")",
    "#import \"x.typ\": *",
    "#include \"x.typ\"",
    "#eval(\"1\")",
    "*bold* _slanted_ $x^2$",
    "<label> @reference ~ -- ---",
    "// comment /* block */",
    "`raw` ```rust code```",
    "= Heading\n- item\n+ item\n/ term: text",
    "\\u{202E} \\ #[x] #{1}",
    "https://example.org/a?b=c&d",
    "&amp; &lt;b&gt; <script>alert('x')</script>",
    "reversed \u{202e}abc\u{202c} zero\u{200b}width bell\u{7}",
    "中文 \u{1f600} עברית العربية",
    "'quotes' \"double\" ... (c) 1/2",
];

/// An invented document; the table has `rows` rows.
pub(crate) fn document(rows: usize) -> Document {
    let mut table = DataTable::new(
        "runs",
        "Runs in the order in which they were done",
        vec![
            Column::number("No."),
            Column::short("Unit"),
            Column::short("Class"),
            Column::number("Size (µm)"),
            Column::number("Rise (Pa)"),
            Column::words("How it ended", 1.0),
        ],
    )
    .with_footnote("Invented runs.");
    for row in 1..=rows {
        table.push([
            row.to_string(),
            format!("UNIT{row:04}X"),
            "negative control".to_string(),
            String::new(),
            crate::number::significant(12.0 + row as f64 * 0.01, 3),
            "completed".to_string(),
        ]);
    }
    let mut literal =
        DataTable::new("literal", "Texts as they were typed", vec![Column::words("Text", 1.0)]);
    for text in MARKUP {
        literal.push([*text]);
    }
    Document {
        kind: DocumentKind::Study,
        title: "Lyophilised 2R vial, 0.3 bar nitrogen".to_string(),
        identification: "vial-2r-lyo/study-report".to_string(),
        version: "1".to_string(),
        case_label: "vial-2r-lyo".to_string(),
        invented: true,
        date_text: "2026-11-25 01:00 UTC".to_string(),
        moment: Moment { year: 2026, month: 11, day: 25, hour: 1, minute: 0, second: 0 },
        sections: vec![
            Section::new("answer", "")
                .with(Block::Verdict(Verdict {
                    kind: VerdictKind::Reached,
                    word: "reached".to_string(),
                    question: "Does the test find leaks of 5 µm through this headspace?"
                        .to_string(),
                    answer: "What is proven (3.1 µm) reaches what is needed (5 µm).".into(),
                    details: vec![
                        Words::from("60 positive controls, see ")
                            .leading_to("the runs", "runs")
                            .plain("."),
                    ],
                }))
                .with(Block::Figure(ladder_figure(&every_kind(), "ladder", 380.0))),
            Section::new("profile", "Profile")
                .paragraph(
                    "The container and what is in it, with the origin of every number. ".repeat(4),
                )
                .with(Block::Subheading("Container".to_string()))
                .with(Block::KeyValues(vec![
                    KeyValue::new(
                        "Free volume",
                        "30\u{202f}mL, standard uncertainty 0.9\u{202f}mL",
                    ),
                    KeyValue::new("Gas", "nitrogen"),
                ])),
            Section::new("figures", "Figures")
                .with(Block::Figure(FigureBlock::of(&figure_of_every_layer()).expect("sound")))
                .with(Block::Figure(FigureBlock::of(&log_figure()).expect("sound"))),
            Section::new("texts", "Texts").with(Block::Table(literal)),
            Section::new("all-runs", "Runs").with(Block::Table(table)),
            Section::new("notes", "Notes").with(Block::Notes(vec![
                NoteBlock {
                    weight: NoteWeight::Caution,
                    text: "Only three days are covered.".to_string(),
                    next_step: "Add two days.".to_string(),
                },
                NoteBlock {
                    weight: NoteWeight::Refusal,
                    text: "Nothing is said of plugged leaks.".to_string(),
                    next_step: String::new(),
                },
                NoteBlock {
                    weight: NoteWeight::Remark,
                    text: "The order was random.".to_string(),
                    next_step: String::new(),
                },
            ])),
            Section::new("signatures", "Signatures").with(Block::Signatures(vec![
                SignatureLine { role: "Author".to_string(), meaning: "has written it".to_string() },
                SignatureLine {
                    role: "Reviewer".to_string(),
                    meaning: "has read it and the runs".to_string(),
                },
            ])),
        ],
        cautions: vec!["Isobar supports a method; it does not qualify an instrument.".to_string()],
        sources: vec![Source {
            mark: "[1]".to_string(),
            text: "An invented source, for the layout only.".to_string(),
        }],
        checkpoint: Some(Checkpoint { entries: 12345, digest: "0123456789abcdef".repeat(4) }),
        digest: "fedcba9876543210".repeat(4),
        software: "Isobar 0.1.0".to_string(),
        attachments: vec![Attachment {
            name: "case.json".to_string(),
            mime_type: "application/json".to_string(),
            description: "the data behind this document".to_string(),
            bytes: b"{\"invented\": true}".to_vec(),
        }],
    }
}

/// Writes the samples where a person can look at them:
/// `REPORT_SAMPLES=folder cargo test -p report -- --ignored samples`.
#[test]
#[ignore = "writes samples to look at"]
fn samples() {
    let Ok(folder) = std::env::var("REPORT_SAMPLES") else { return };
    let write = |name: &str, bytes: &[u8]| {
        std::fs::write(format!("{folder}/{name}"), bytes).expect("the folder exists");
    };
    let sample = document(90);
    write("sample-a4.pdf", &crate::typeset(&sample, crate::Paper::A4).expect("set"));
    write("sample-letter.pdf", &crate::typeset(&sample, crate::Paper::Letter).expect("set"));
    write("sample.html", crate::html::html(&sample).as_bytes());
    write(
        "ladder.svg",
        crate::ladder_figure::ladder_svg(&every_kind(), "ladder", 390.0).as_bytes(),
    );
    write(
        "every-layer.svg",
        crate::figure::svg(&figure_of_every_layer()).expect("sound").as_bytes(),
    );
    write("ladder.txt", crate::ladder_text::ladder_text(&every_kind(), 100).as_bytes());
    write(
        "plot.json",
        crate::figure::plot_json(&figure_of_every_layer()).expect("sound").to_string().as_bytes(),
    );
}

//! Sheets: what, how much, in which unit, and how that is known.

use maud::{Markup, html};
use study::provenance::{Provenance, Sourced};

use super::wording::{known_from, plain, shown, three};

/// One line of a sheet.
pub struct Line {
    name: String,
    value: String,
    /// Numbers line up on the right, words on the left.
    is_number: bool,
    spread: Option<String>,
    unit: String,
    known: Option<Provenance>,
}

impl Line {
    /// A number with its unit.
    pub fn number(name: &str, value: f64, unit: &str) -> Self {
        Self {
            name: name.to_owned(),
            value: three(value),
            is_number: true,
            spread: None,
            unit: unit.to_owned(),
            known: None,
        }
    }

    /// A number that carries its origin; `scale` turns the SI unit of its
    /// uncertainty into the printed unit.
    pub fn sourced<T>(
        name: &str,
        sourced: &Sourced<T>,
        value: f64,
        unit: &str,
        scale: f64,
    ) -> Self {
        Self {
            spread: sourced.standard_uncertainty_si.map(|u| plain(u * scale)),
            known: Some(sourced.provenance.clone()),
            ..Self::set(name, value, unit)
        }
    }

    /// A number that somebody set, written without trailing zeros.
    pub fn set(name: &str, value: f64, unit: &str) -> Self {
        Self { value: plain(value), ..Self::number(name, value, unit) }
    }

    /// A count.
    pub fn count(name: &str, count: usize) -> Self {
        Self { value: report::number::count(count as u64), ..Self::number(name, 0.0, "") }
    }

    /// Words.
    pub fn words(name: &str, value: &str) -> Self {
        Self {
            name: name.to_owned(),
            value: shown(value),
            is_number: false,
            spread: None,
            unit: String::new(),
            known: None,
        }
    }

    /// The same line with its origin.
    pub fn known(mut self, provenance: &Provenance) -> Self {
        self.known = Some(provenance.clone());
        self
    }
}

/// A sheet with its caption.
pub fn sheet(caption: &str, lines: &[Line]) -> Markup {
    let with_origin = lines.iter().any(|line| line.known.is_some());
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table.sheet {
                caption { (caption) }
                thead.quiet {
                    tr {
                        th scope="col" { "What" }
                        th.num scope="col" { "Value" }
                        th scope="col" { "Unit" }
                        @if with_origin { th scope="col" { "Known how" } }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            th scope="row" { (line.name) }
                            @if line.is_number {
                                td.num {
                                    (line.value)
                                    @if let Some(spread) = &line.spread {
                                        span.spread { " ± " (spread) }
                                    }
                                }
                                td.unit { (line.unit) }
                            } @else {
                                td.words colspan="2" { (line.value) }
                            }
                            @if with_origin {
                                td.known { @if let Some(known) = &line.known { (known_from(known)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The head of a table; a heading that begins with `#` stands over numbers.
pub fn headings_row(headings: &[&str]) -> Markup {
    html! {
        thead { tr {
            @for heading in headings {
                th.num[heading.starts_with('#')] scope="col" { (heading.trim_start_matches('#')) }
            }
        } }
    }
}

/// A table with headings; a heading that begins with `#` stands over numbers.
pub fn table(caption: &str, headings: &[&str], rows: &[Vec<String>]) -> Markup {
    let is_number = |index: usize| headings.get(index).is_some_and(|name| name.starts_with('#'));
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table.list {
                caption { (caption) }
                (headings_row(headings))
                tbody {
                    @for row in rows {
                        tr {
                            @for (index, cell) in row.iter().enumerate() {
                                @if index == 0 {
                                    th.num[is_number(0)] scope="row" { (cell) }
                                } @else {
                                    td.num[is_number(index)] { (cell) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

//! Container and product profile: every value with its origin, and what is
//! missing.

use study::Case;
use study::profile_gaps::profile_gaps;

use super::profile;
use super::signing::lines;
use super::wording::sentence;
use crate::document::{Block, Column, DataTable, Section, Words};

pub(super) fn sections(case: &Case) -> Vec<Section> {
    let mut table = DataTable::new(
        "gaps-table",
        "What is missing, what hangs on it, how to come by it",
        vec![
            Column::words("Missing", 1.2),
            Column::words("What hangs on it", 1.2),
            Column::words("How to come by it", 1.2),
        ],
    );
    for gap in profile_gaps(&case.input) {
        table.push([sentence(&gap.missing), sentence(gap.matters), sentence(gap.how)]);
    }
    let mall = &case.input.profile.mall;
    let mut opening = Section::new("question", "Question")
        .paragraph(Words::default().strong(case.input.question.clone()));
    if mall.is_none() {
        opening = opening.paragraph(
            Words::default()
                .strong("Missing: ")
                .plain("nobody has said which leak matters (MALL)."),
        );
    }
    vec![
        opening,
        profile::section(case),
        Section::new("gaps", "What is missing").with(Block::Table(table)),
        Section::new("signatures", "Signatures").with(lines([
            ("Author", "collected the values from the sources named"),
            ("Owner of the product", "confirms container, product and leak that matters"),
            ("Quality unit", "agrees to its use for the method"),
        ])),
    ]
}

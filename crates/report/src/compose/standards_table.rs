//! The table of standards and the questions of an auditor.

use study::Case;
use study::auditor_questions::auditor_questions;
use study::kept_records::KeptRecords;
use study::standards::standards;

use super::wording::sentence;
use crate::document::{Block, Column, DataTable, Section, Words};

pub(super) fn sections(case: &Case, kept: &KeptRecords) -> [Section; 2] {
    let mut table = DataTable::new(
        "standards-table",
        "What the documents of the field ask for, and what this case has to show",
        vec![
            Column::words("Document", 0.8),
            Column::words("Asks, in our words", 1.8),
            Column::short("State"),
            Column::words("Evidence", 1.2),
            Column::words("Gap", 1.2),
        ],
    )
    .with_footnote(
        "“Held” says that this case has something to show, not that the document is met: that is \
         the judgement of the site. By analogy: the document was written for analytical procedures.",
    );
    for demand in standards(case, kept) {
        let evidence = match (demand.evidence.is_empty(), demand.section) {
            (true, _) => Words::default(),
            (false, "") => Words::from(sentence(&demand.evidence)),
            (false, section) => Words::default().leading_to(sentence(&demand.evidence), section),
        };
        table.rows.push(vec![
            demand.document.into(),
            demand.asks.into(),
            Words::default().strong(demand.standing.word()),
            evidence,
            sentence(&demand.gap).into(),
        ]);
    }
    let mut questions = DataTable::new(
        "auditor-questions",
        "Questions that an auditor asks",
        vec![Column::words("Question", 1.0), Column::words("Answer from the case", 2.4)],
    );
    for question in auditor_questions(case, kept) {
        let answer = match question.answer {
            Some(answer) => Words::from(sentence(&answer)),
            None => Words::default().strong("Open. ").plain(sentence(question.would_answer)),
        };
        questions.rows.push(vec![question.question.into(), answer]);
    }
    [
        Section::new("standards", "Appendix A: standards")
            .paragraph(
                "Clause numbers are withheld: they were not checked against the edition that the \
                 site holds. The demands are facts in our own words, from general knowledge of the \
                 editions named.",
            )
            .with(Block::Table(table)),
        Section::new("questions", "Appendix B: an auditor's questions")
            .with(Block::Table(questions)),
    ]
}

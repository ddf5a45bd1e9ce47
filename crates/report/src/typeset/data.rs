//! The document as JSON for the template. Every text passes through
//! [`printable`] here and nowhere else.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::{Paper, TypesetError};
use crate::document::{
    Align, Attachment, Block, DataTable, Document, FigureBlock, KeyValue, NoteBlock, Section,
    SignatureLine, Style, Verdict, VerdictKind, Words,
};
use crate::visible::printable;

/// The bytes of `data.json`.
///
/// # Errors
/// A row with too many cells, or two parts of the same name.
pub fn to_json(document: &Document, paper: Paper) -> Result<Vec<u8>, TypesetError> {
    let names = names(document)?;
    let sections: Result<Vec<Value>, _> =
        document.sections.iter().map(|part| section(part, &names)).collect();
    let checkpoint = document.checkpoint.as_ref().map(|checkpoint| {
        json!({ "entries": crate::number::count(checkpoint.entries), "digest": printable(&checkpoint.digest) })
    });
    let sources: Vec<Value> = document
        .sources
        .iter()
        .map(|source| json!({ "mark": printable(&source.mark), "text": printable(&source.text) }))
        .collect();
    let mut value = json!({
        "paper": paper.template_word(),
        "kind": document.kind.word(),
        "compact": document.kind.is_one_page(),
        "title": heading(&document.title).unwrap_or_else(|| document.kind.word().to_string()),
        "identification": printable(&document.identification),
        "version": printable(&document.version),
        "case": printable(&document.case_label),
        "invented": document.invented,
        "date": printable(&document.date_text),
        "sections": sections?,
        "cautions": document.cautions.iter().map(|text| printable(text)).collect::<Vec<_>>(),
        "sources": sources,
        "checkpoint": checkpoint,
        "digest": printable(&document.digest),
        "software": printable(&document.software),
        "attachments": document.attachments.iter().enumerate().map(attachment).collect::<Vec<_>>(),
    });
    // A reader who meets a code in brackets must be told what it is.
    value["written_out"] = json!(value.to_string().contains("[U+"));
    serde_json::to_vec(&value).map_err(|error| TypesetError::Typesetter(error.to_string()))
}

/// Names that a link can lead to, each once.
fn names(document: &Document) -> Result<BTreeSet<&str>, TypesetError> {
    let mut names = BTreeSet::new();
    for section in &document.sections {
        let blocks = section.blocks.iter().filter_map(|block| match block {
            Block::Table(table) => Some(table.id.as_str()),
            Block::Figure(figure) => Some(figure.id.as_str()),
            _ => None,
        });
        // Words in cells of tables can be named as well.
        let cells = section.blocks.iter().filter_map(|block| match block {
            Block::Table(table) => Some(table.rows.iter().flatten()),
            _ => None,
        });
        let words = cells
            .flatten()
            .flat_map(|words| words.stretches.iter().filter_map(|one| one.name.as_deref()));
        for id in std::iter::once(section.id.as_str()).chain(blocks).chain(words) {
            if !names.insert(id) {
                return Err(TypesetError::Name { id: id.to_string() });
            }
        }
    }
    Ok(names)
}

fn attachment((index, file): (usize, &Attachment)) -> Value {
    json!({
        "path": format!("attachment/{index}"),
        "name": file_name(&file.name),
        "mime": printable(&file.mime_type),
        "description": printable(&file.description),
    })
}

/// A file name that no reader of the PDF can take for a path.
fn file_name(name: &str) -> String {
    let safe = |character: char| {
        if character.is_ascii_alphanumeric() || matches!(character, '.' | '-' | '_') {
            character
        } else {
            '-'
        }
    };
    let name: String = name.chars().map(safe).collect();
    let name = name.trim_start_matches('.').to_string();
    if name.is_empty() { "attachment".to_string() } else { name }
}

fn section(section: &Section, names: &BTreeSet<&str>) -> Result<Value, TypesetError> {
    let blocks: Result<Vec<Value>, _> =
        section.blocks.iter().map(|part| block(part, names)).collect();
    let heading = heading(&section.heading).unwrap_or_default();
    Ok(json!({ "id": section.id, "heading": heading, "blocks": blocks? }))
}

/// A heading in one line; a tagged document has no empty headings.
fn heading(text: &str) -> Option<String> {
    let line = printable(text).replace('\n', " ");
    let line = line.trim();
    (!line.is_empty()).then(|| line.to_string())
}

fn block(block: &Block, names: &BTreeSet<&str>) -> Result<Value, TypesetError> {
    Ok(match block {
        Block::Paragraph(text) => json!({ "kind": "paragraph", "words": words(text, names) }),
        Block::Subheading(text) => {
            json!({ "kind": "subheading", "text": heading(text).unwrap_or_default() })
        }
        Block::KeyValues(pairs) => json!({ "kind": "key-values",
            "pairs": pairs.iter().map(|pair| key_value(pair, names)).collect::<Vec<_>>() }),
        Block::Table(content) => table(content, names)?,
        Block::Figure(content) => figure(content),
        Block::Notes(notes) => json!({ "kind": "notes",
            "notes": notes.iter().map(note).collect::<Vec<_>>() }),
        Block::Verdict(content) => verdict(content, names),
        Block::Signatures(lines) => json!({ "kind": "signatures",
            "lines": lines.iter().map(signature).collect::<Vec<_>>() }),
    })
}

fn words(words: &Words, names: &BTreeSet<&str>) -> Value {
    let stretches = words.stretches.iter().map(|stretch| {
        let style = match stretch.style {
            Style::Plain => "plain",
            Style::Strong => "strong",
            Style::Slanted => "slanted",
            Style::Literal => "literal",
        };
        // A link without a goal is printed as plain words.
        let target = stretch.target.as_deref().filter(|target| names.contains(target));
        json!({ "text": printable(&stretch.text), "style": style, "target": target,
            "name": stretch.name })
    });
    Value::Array(stretches.collect())
}

fn key_value(pair: &KeyValue, names: &BTreeSet<&str>) -> Value {
    json!({ "name": printable(&pair.name), "value": words(&pair.value, names) })
}

fn table(table: &DataTable, names: &BTreeSet<&str>) -> Result<Value, TypesetError> {
    let columns: Vec<Value> = table
        .columns
        .iter()
        .map(|column| {
            let align = if column.align == Align::Right { "right" } else { "left" };
            json!({ "heading": printable(&column.heading), "align": align, "share": column.share })
        })
        .collect();
    let mut rows = Vec::with_capacity(table.rows.len());
    for (index, row) in table.rows.iter().enumerate() {
        if row.len() > columns.len() {
            return Err(TypesetError::Cells {
                table: table.id.clone(),
                row: index + 1,
                cells: row.len(),
                columns: columns.len(),
            });
        }
        let mut cells: Vec<Value> = row.iter().map(|cell| words(cell, names)).collect();
        cells.resize(columns.len(), json!([]));
        rows.push(Value::Array(cells));
    }
    Ok(json!({ "kind": "table", "id": table.id, "caption": printable(&table.caption),
        "columns": columns, "rows": rows, "footnote": printable(&table.footnote) }))
}

fn figure(figure: &FigureBlock) -> Value {
    json!({ "kind": "figure", "id": figure.id, "title": printable(&figure.title),
        "caption": printable(&figure.caption), "alt": printable(&figure.alt),
        "svg": figure.svg, "width": figure.width_pt })
}

fn note(note: &NoteBlock) -> Value {
    json!({ "weight": note.weight.word(), "text": printable(&note.text),
        "next": printable(&note.next_step) })
}

fn verdict(verdict: &Verdict, names: &BTreeSet<&str>) -> Value {
    let style = match verdict.kind {
        VerdictKind::Reached => "reached",
        VerdictKind::Expected => "expected",
        VerdictKind::NotReached => "not-reached",
        VerdictKind::Open => "open",
    };
    json!({ "kind": "verdict", "style": style, "word": printable(&verdict.word),
        "question": printable(&verdict.question), "answer": words(&verdict.answer, names),
        "details": verdict.details.iter().map(|detail| words(detail, names)).collect::<Vec<_>>() })
}

fn signature(line: &SignatureLine) -> Value {
    json!({ "role": printable(&line.role), "meaning": printable(&line.meaning) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_no_paths() {
        assert_eq!(file_name("../../etc/passwd"), "-..-etc-passwd");
        assert_eq!(file_name("case data.json"), "case-data.json");
        assert_eq!(file_name("..."), "attachment");
    }
}

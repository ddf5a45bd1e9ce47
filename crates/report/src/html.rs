//! The page twin of a document: an HTML fragment with the same words and
//! figures, all user text escaped.

use crate::document::{
    Align, Block, DataTable, Document, FigureBlock, KeyValue, NoteBlock, Section, SignatureLine,
    Style, Verdict, VerdictKind, Words,
};
use crate::visible::visible;

/// Style sheet of the fragment, to be served as a file of its own.
pub const STYLE_SHEET: &str = include_str!("document.css");

/// The document as one `<article>`.
///
/// Classes begin with `doc-`; the page brings the style sheet. Headings begin
/// at `<h1>`.
#[must_use]
pub fn html(document: &Document) -> String {
    let mut out = String::from("<article class=\"doc\">\n");
    if document.invented {
        out.push_str("<p class=\"doc-invented\" role=\"note\">Invented data: made up to show the method. No container was tested.</p>\n");
    }
    out.push_str(&format!("<p class=\"doc-kind\">{}</p>\n", text(document.kind.word())));
    out.push_str(&format!("<h1>{}</h1>\n<dl class=\"doc-title-block\">", text(&document.title)));
    for (name, value) in [
        ("Identification", &document.identification),
        ("Version", &document.version),
        ("Case", &document.case_label),
        ("Date", &document.date_text),
    ] {
        out.push_str(&format!("<div><dt>{name}</dt><dd>{}</dd></div>", text(value)));
    }
    out.push_str("</dl>\n");
    let mut numbers = Numbers::default();
    for part in &document.sections {
        section(&mut out, part, &mut numbers);
    }
    closing(&mut out, document);
    out.push_str("</article>\n");
    out
}

/// Numbers of tables and figures, counted as they come.
#[derive(Default)]
struct Numbers {
    tables: usize,
    figures: usize,
}

/// Text with entities and visible controls; line breaks become `<br>`.
fn text(source: &str) -> String {
    attribute(source).replace('\n', "<br>")
}

fn attribute(source: &str) -> String {
    visible(source)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;")
}

/// A name as an identifier in the page; the prefix keeps it apart from the
/// page's own.
fn anchor(id: &str) -> String {
    format!("doc-{}", attribute(&id.replace(char::is_whitespace, "-")))
}

fn words(words: &Words) -> String {
    words
        .stretches
        .iter()
        .map(|stretch| {
            let body = text(&stretch.text);
            let body = match stretch.style {
                Style::Plain => body,
                Style::Strong => format!("<strong>{body}</strong>"),
                Style::Slanted => format!("<em>{body}</em>"),
                Style::Literal => format!("<code>{body}</code>"),
            };
            match (&stretch.target, &stretch.name) {
                (Some(target), _) => format!("<a href=\"#{}\">{body}</a>", anchor(target)),
                (None, Some(name)) => format!("<span id=\"{}\">{body}</span>", anchor(name)),
                (None, None) => body,
            }
        })
        .collect()
}

fn section(out: &mut String, section: &Section, numbers: &mut Numbers) {
    out.push_str(&format!("<section id=\"{}\">\n", anchor(&section.id)));
    if !section.heading.is_empty() {
        out.push_str(&format!("<h2>{}</h2>\n", text(&section.heading)));
    }
    for part in &section.blocks {
        block(out, part, numbers);
    }
    out.push_str("</section>\n");
}

fn block(out: &mut String, block: &Block, numbers: &mut Numbers) {
    match block {
        Block::Paragraph(content) => out.push_str(&format!("<p>{}</p>\n", words(content))),
        Block::Subheading(heading) => out.push_str(&format!("<h3>{}</h3>\n", text(heading))),
        Block::KeyValues(pairs) => key_values(out, pairs),
        Block::Table(content) => {
            numbers.tables += 1;
            table(out, content, &format!("Table {}.", numbers.tables));
        }
        Block::Figure(content) => {
            numbers.figures += 1;
            figure(out, content, numbers.figures);
        }
        Block::Notes(notes) => note_list(out, notes),
        Block::Verdict(content) => verdict(out, content),
        Block::Signatures(lines) => signatures(out, lines),
    }
}

fn key_values(out: &mut String, pairs: &[KeyValue]) {
    out.push_str("<dl class=\"doc-key-values\">");
    for pair in pairs {
        out.push_str(&format!(
            "<div><dt>{}</dt><dd>{}</dd></div>",
            text(&pair.name),
            words(&pair.value)
        ));
    }
    out.push_str("</dl>\n");
}

fn table(out: &mut String, table: &DataTable, number: &str) {
    out.push_str(&format!(
        "<div class=\"doc-table\" tabindex=\"0\"><table id=\"{}\"><caption><strong>{number}</strong> {}</caption><thead><tr>",
        anchor(&table.id),
        text(&table.caption)
    ));
    let class = |align: Align| if align == Align::Right { " class=\"doc-number\"" } else { "" };
    for column in &table.columns {
        out.push_str(&format!(
            "<th scope=\"col\"{}>{}</th>",
            class(column.align),
            text(&column.heading)
        ));
    }
    out.push_str("</tr></thead><tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (index, cell) in row.iter().enumerate() {
            let align = table.columns.get(index).map_or(Align::Left, |column| column.align);
            out.push_str(&format!("<td{}>{}</td>", class(align), words(cell)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table>");
    if !table.footnote.is_empty() {
        out.push_str(&format!("<p class=\"doc-footnote\">{}</p>", text(&table.footnote)));
    }
    out.push_str("</div>\n");
}

fn figure(out: &mut String, figure: &FigureBlock, number: usize) {
    out.push_str(&format!(
        "<figure id=\"{}\">\n{}<figcaption><strong>Figure {number}. {}.</strong> {}</figcaption></figure>\n",
        anchor(&figure.id),
        figure.svg,
        text(&figure.title),
        text(&figure.caption)
    ));
    if let Some(source) = &figure.source {
        out.push_str(
            "<details class=\"doc-source\"><summary>Numbers behind the figure</summary>\n",
        );
        table(out, source, "");
        out.push_str("</details>\n");
    }
}

fn note_list(out: &mut String, notes: &[NoteBlock]) {
    out.push_str("<ul class=\"doc-notes\">");
    for note in notes {
        out.push_str(&format!("<li><strong>{}.</strong> {}", note.weight.word(), text(&note.text)));
        if !note.next_step.is_empty() {
            out.push_str(&format!(
                "<br><span class=\"doc-next\">Next:</span> {}",
                text(&note.next_step)
            ));
        }
        out.push_str("</li>\n");
    }
    out.push_str("</ul>\n");
}

fn verdict(out: &mut String, verdict: &Verdict) {
    let class = match verdict.kind {
        VerdictKind::Reached => "reached",
        VerdictKind::Expected => "expected",
        VerdictKind::NotReached => "not-reached",
        VerdictKind::Open => "open",
    };
    out.push_str(&format!(
        "<div class=\"doc-verdict doc-verdict-{class}\"><p class=\"doc-question\">{}</p><p class=\"doc-answer\"><strong class=\"doc-word\">{}</strong> {}</p>",
        text(&verdict.question),
        text(&verdict.word),
        words(&verdict.answer)
    ));
    if !verdict.details.is_empty() {
        out.push_str("<ul>");
        for detail in &verdict.details {
            out.push_str(&format!("<li>{}</li>", words(detail)));
        }
        out.push_str("</ul>");
    }
    out.push_str("</div>\n");
}

fn signatures(out: &mut String, lines: &[SignatureLine]) {
    out.push_str("<table class=\"doc-signatures\"><thead><tr><th scope=\"col\">Role</th><th scope=\"col\">Meaning</th><th scope=\"col\">Name and signature</th><th scope=\"col\">Date</th></tr></thead><tbody>");
    for line in lines {
        out.push_str(&format!(
            "<tr><td>{}</td><td>{}</td><td></td><td></td></tr>",
            text(&line.role),
            text(&line.meaning)
        ));
    }
    out.push_str("</tbody></table>\n");
}

fn closing(out: &mut String, document: &Document) {
    if !document.cautions.is_empty() {
        out.push_str("<section class=\"doc-cautions\"><h2>Cautions</h2><ul>");
        for caution in &document.cautions {
            out.push_str(&format!("<li>{}</li>", text(caution)));
        }
        out.push_str("</ul></section>\n");
    }
    if !document.sources.is_empty() {
        out.push_str("<section class=\"doc-sources\"><h2>Sources</h2><dl>");
        for source in &document.sources {
            out.push_str(&format!(
                "<div><dt>{}</dt><dd>{}</dd></div>",
                text(&source.mark),
                text(&source.text)
            ));
        }
        out.push_str("</dl></section>\n");
    }
    out.push_str("<section class=\"doc-check\"><h2>How to check this document</h2><dl class=\"doc-key-values\">");
    out.push_str(&format!("<div><dt>Made by</dt><dd>{}</dd></div>", text(&document.software)));
    out.push_str(&format!(
        "<div><dt>Digest of the data (SHA-256)</dt><dd><code>{}</code></dd></div>",
        text(&document.digest)
    ));
    if let Some(checkpoint) = &document.checkpoint {
        out.push_str(&format!(
            "<div><dt>History</dt><dd>{} entries, <code>{}</code></dd></div>",
            crate::number::count(checkpoint.entries),
            text(&checkpoint.digest)
        ));
    }
    out.push_str("</dl></section>\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_class_has_a_style_or_is_known_to_need_none() {
        let page = html(&crate::sample::document(2));
        for class in page.split("class=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
            for name in class.split(' ').filter(|name| name.starts_with("doc-")) {
                let known = ["doc-source", "doc-sources", "doc-cautions", "doc-check"];
                let styled = STYLE_SHEET.contains(&format!(".{name}"));
                assert!(
                    styled || known.contains(&name) || name.starts_with("doc-verdict"),
                    "{name}"
                );
            }
        }
    }

    #[test]
    fn markup_of_users_is_text_and_every_row_is_there() {
        let page = html(&crate::sample::document(400));
        assert!(!page.contains("<script"));
        assert!(page.contains("&lt;script&gt;") && page.contains("[U+202E]"));
        for row in 1..=400 {
            assert!(page.contains(&format!("UNIT{row:04}X")));
        }
        // Every element that is opened is closed.
        for tag in ["article", "section", "figure", "table", "dl", "ul", "div", "p"] {
            let opened = page.matches(&format!("<{tag}>")).count()
                + page.matches(&format!("<{tag} ")).count();
            assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "{tag}");
        }
    }

    #[test]
    fn page_and_paper_escape_the_same_characters() {
        let source = "<a href='x'>\"&\u{202e}";
        let (page, paper) = (attribute(source), crate::figure::escaped(source));
        assert_eq!(page, paper);
        assert_eq!(page, "&lt;a href=&#39;x&#39;&gt;&quot;&amp;[U+202E]");
    }
}

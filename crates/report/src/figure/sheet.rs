//! A sheet: one figure or several panels, with title and caption, as a
//! drawing that stands by itself.

use super::svg::svg;
use super::svg_writer::{Anchor, Lettering, SvgWriter, coordinate};
use super::{Figure, FigureError};

const MARGIN: f64 = 14.0;
const TITLE: f64 = 11.0;
const CAPTION: f64 = 9.0;
const LINE: f64 = 12.0;

/// Draws panels one under the other, each with its title above and its
/// caption below; several panels are lettered a, b, c.
///
/// Inside a document title and caption are text of the page; a file that is
/// mailed or pasted has only itself.
///
/// # Errors
/// [`FigureError`] of the first panel that cannot be drawn.
///
/// # Example
/// ```
/// use report::figure::{Axis, Figure, sheet};
/// let axis = |label: &str| Axis::linear(label, "", 0.0, 1.0);
/// let figure = Figure::new("f", "Rise against flow", axis("flow"), axis("rise"));
/// assert!(sheet(&[figure])?.contains("Rise against flow"));
/// # Ok::<(), report::figure::FigureError>(())
/// ```
pub fn sheet(panels: &[Figure]) -> Result<String, FigureError> {
    let inner = panels.iter().map(svg).collect::<Result<Vec<_>, _>>()?;
    let widest = panels.iter().map(|panel| panel.width_pt).fold(0.0, f64::max);
    let captions: Vec<Vec<String>> =
        panels.iter().map(|panel| lines_of(&panel.caption, widest)).collect();
    let height: f64 = panels
        .iter()
        .zip(&captions)
        .map(|(panel, lines)| TITLE + 9.0 + panel.height_pt + lines.len() as f64 * LINE + 16.0)
        .sum();
    let (title, alt) = panels.first().map_or(("", ""), |p| (p.title.as_str(), p.alt.as_str()));
    let (full_width, full_height) = (widest + 2.0 * MARGIN, height + 2.0 * MARGIN - 10.0);
    let mut writer = SvgWriter::begin("sheet", full_width, full_height, title, alt);
    writer.rectangle(0.0, 0.0, full_width, full_height, "fill=\"#fff\"");
    let mut y = MARGIN;
    for (index, panel) in panels.iter().enumerate() {
        let letter = char::from(b'a' + (index % 26) as u8);
        let title = if panels.len() > 1 {
            format!("{letter}  {}", panel.title)
        } else {
            panel.title.clone()
        };
        y += TITLE;
        writer.text(MARGIN, y, Anchor::Start, Lettering::bold(TITLE), &title);
        y += 9.0;
        writer.raw(&placed(&inner[index], MARGIN, y));
        y += panel.height_pt + 4.0;
        for line in &captions[index] {
            y += LINE;
            writer.text(MARGIN, y, Anchor::Start, Lettering::plain(CAPTION), line);
        }
        y += 12.0;
    }
    Ok(writer.finish())
}

/// A drawing put at a place of a larger one.
fn placed(drawing: &str, x: f64, y: f64) -> String {
    let place = format!("<svg x=\"{}\" y=\"{}\" ", coordinate(x), coordinate(y));
    drawing.replacen("<svg ", &place, 1)
}

/// A text broken into lines of a width, with a margin for other typefaces.
fn lines_of(text: &str, width: f64) -> Vec<String> {
    let lettering = Lettering::plain(CAPTION);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if lettering.width(&format!("{line} {word}")) <= 0.94 * width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::Axis;

    fn panel(id: &str) -> Figure {
        let axis = |label: &str| Axis::linear(label, "", 0.0, 1.0);
        Figure::new(id, "A <title>", axis("x"), axis("y"))
            .described("Words that say how to read it. ".repeat(12), "alt")
    }

    #[test]
    fn one_panel_has_no_letter_and_two_have() {
        let one = sheet(&[panel("p")]).expect("drawn");
        assert!(one.contains(">A &lt;title&gt;</text>"), "{one}");
        let two = sheet(&[panel("p"), panel("q")]).expect("drawn");
        assert!(two.contains(">a  A &lt;title&gt;<") && two.contains(">b  A &lt;title&gt;<"));
        assert_eq!(two.matches("<svg ").count(), 3);
        assert_eq!(two.matches("</svg>").count(), 3);
    }

    #[test]
    fn captions_are_broken_at_blanks() {
        let lines = lines_of(&"word ".repeat(60), 200.0);
        assert!(lines.len() > 3);
        assert_eq!(lines.join(" ").split(' ').count(), 60);
    }

    #[test]
    fn a_panel_that_cannot_be_drawn_is_refused() {
        let mut broken = panel("p");
        broken.x.high = f64::NAN;
        assert!(sheet(&[broken]).is_err());
    }
}

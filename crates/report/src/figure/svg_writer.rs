//! Writes SVG: escaping, rounding of coordinates, text with its size.

use crate::typeset::fonts;
use crate::visible::printable;

/// Characters with a meaning in XML written as entities; what is hidden or
/// cannot be drawn written out.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut result = String::with_capacity(text.len());
    for character in printable(text).chars() {
        match character {
            '&' => result.push_str("&amp;"),
            '<' => result.push_str("&lt;"),
            '>' => result.push_str("&gt;"),
            '"' => result.push_str("&quot;"),
            '\'' => result.push_str("&#39;"),
            '\n' => result.push(' '),
            _ => result.push(character),
        }
    }
    result
}

/// A coordinate with two decimals, without trailing zeros.
#[must_use]
pub fn coordinate(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_string() } else { text.to_string() }
}

/// Where a text hangs on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The text begins there.
    Start,
    /// The text is centred there.
    Middle,
    /// The text ends there.
    End,
}

/// Size, weight and colour of a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lettering {
    /// Size, points.
    pub size: f64,
    /// Bold or not.
    pub bold: bool,
    /// Italic or not.
    pub italic: bool,
    /// Colour.
    pub fill: &'static str,
    /// White ground behind the letters, so that lines do not cross them.
    pub halo: bool,
}

impl Lettering {
    /// Plain dark text.
    #[must_use]
    pub const fn plain(size: f64) -> Self {
        Self { size, bold: false, italic: false, fill: "#1a1a1a", halo: false }
    }

    /// Bold dark text.
    #[must_use]
    pub const fn bold(size: f64) -> Self {
        Self { bold: true, ..Self::plain(size) }
    }

    /// The same text with a white ground.
    #[must_use]
    pub const fn haloed(mut self) -> Self {
        self.halo = true;
        self
    }

    /// The same text in another colour.
    #[must_use]
    pub const fn filled(mut self, fill: &'static str) -> Self {
        self.fill = fill;
        self
    }

    /// The same text in italics.
    #[must_use]
    pub const fn slanted(mut self) -> Self {
        self.italic = true;
        self
    }

    /// Width of a text in this lettering, points.
    #[must_use]
    pub fn width(&self, text: &str) -> f64 {
        self.size * fonts::text_width(&printable(text), self.bold)
    }
}

/// An SVG drawing under way.
pub struct SvgWriter {
    out: String,
}

impl SvgWriter {
    /// Begins a drawing with its title and description for screen readers.
    #[must_use]
    pub fn begin(id: &str, width: f64, height: f64, title: &str, description: &str) -> Self {
        let id = identifier(id);
        let (width, height) = (coordinate(width), coordinate(height));
        let family = fonts::TEXT_FAMILY;
        let out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
             width=\"{width}\" height=\"{height}\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-description\" \
             font-family=\"{family}, Georgia, serif\" stroke-linejoin=\"round\">\n\
             <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-description\">{}</desc>\n",
            escaped(title),
            escaped(description),
        );
        Self { out }
    }

    /// Adds an element as it is; the caller has escaped it.
    pub fn raw(&mut self, element: &str) {
        self.out.push_str(element);
        self.out.push('\n');
    }

    /// A straight line; `style` holds further attributes.
    pub fn line(&mut self, x1: f64, y1: f64, x2: f64, y2: f64, style: &str) {
        let [x1, y1, x2, y2] = [x1, y1, x2, y2].map(coordinate);
        self.raw(&format!("<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {style}/>"));
    }

    /// A rectangle; `style` holds further attributes.
    pub fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, style: &str) {
        let [x, y, width, height] = [x, y, width.max(0.0), height.max(0.0)].map(coordinate);
        self.raw(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {style}/>"
        ));
    }

    /// A path; `style` holds further attributes.
    pub fn path(&mut self, data: &str, style: &str) {
        self.raw(&format!("<path d=\"{data}\" {style}/>"));
    }

    /// A text on its base line.
    pub fn text(&mut self, x: f64, y: f64, anchor: Anchor, lettering: Lettering, text: &str) {
        self.place_text(
            &format!("x=\"{}\" y=\"{}\"", coordinate(x), coordinate(y)),
            anchor,
            lettering,
            text,
        );
    }

    /// A text turned by a quarter, reading upwards, centred on its point.
    pub fn upward_text(&mut self, x: f64, y: f64, lettering: Lettering, text: &str) {
        let [x, y] = [x, y].map(coordinate);
        let place = format!("x=\"{x}\" y=\"{y}\" transform=\"rotate(-90 {x} {y})\"");
        self.place_text(&place, Anchor::Middle, lettering, text);
    }

    fn place_text(&mut self, place: &str, anchor: Anchor, lettering: Lettering, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if lettering.bold { " font-weight=\"700\"" } else { "" };
        let slant = if lettering.italic { " font-style=\"italic\"" } else { "" };
        let size = coordinate(lettering.size);
        let text = escaped(text);
        if lettering.halo {
            // Drawn twice, not with paint-order, which paper does not know
            // everywhere; the ground is not read aloud.
            self.raw(&format!(
                "<text {place}{anchor}{weight}{slant} font-size=\"{size}\" fill=\"#fff\" \
                 stroke=\"#fff\" stroke-width=\"2.6\" aria-hidden=\"true\">{text}</text>"
            ));
        }
        let fill = lettering.fill;
        self.raw(&format!(
            "<text {place}{anchor}{weight}{slant} font-size=\"{size}\" fill=\"{fill}\">{text}</text>"
        ));
    }

    /// Ends the drawing.
    #[must_use]
    pub fn finish(mut self) -> String {
        self.out.push_str("</svg>\n");
        self.out
    }
}

/// A name that is safe as an identifier of an element.
#[must_use]
pub fn identifier(name: &str) -> String {
    let safe = |character: char| {
        if character.is_ascii_alphanumeric() || character == '-' { character } else { '-' }
    };
    let name: String = name.chars().map(safe).collect();
    if name.is_empty() { "figure".to_string() } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn user_text_stays_text() {
        assert_eq!(escaped("<b>&\"'</b>"), "&lt;b&gt;&amp;&quot;&#39;&lt;/b&gt;");
        assert_eq!(escaped("a\u{202e}b\u{0}"), "a[U+202E]b[U+0000]");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(coordinate(10.0), "10");
        assert_eq!(coordinate(10.456), "10.46");
        assert_eq!(coordinate(-0.001), "0");
        assert_eq!(coordinate(100.0), "100");
    }

    #[test]
    fn identifiers_hold_no_quote() {
        assert_eq!(identifier("a\"b c"), "a-b-c");
        assert_eq!(identifier(""), "figure");
    }
}

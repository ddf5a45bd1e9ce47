//! The embedded typefaces, loaded once: no font of the machine is used, so
//! that the same report has the same bytes everywhere.

use std::collections::HashSet;
use std::sync::OnceLock;

use typst::foundations::Bytes;
use typst::layout::Abs;
use typst::text::{
    Font, FontBook, FontInstance, FontStyle, FontVariant, FontVariations, FontWeight,
};
use typst::utils::LazyHash;

/// Typeface of running text and figures.
pub const TEXT_FAMILY: &str = "Libertinus Serif";
/// Typeface of digests and other literal strings.
pub const LITERAL_FAMILY: &str = "DejaVu Sans Mono";

/// The fonts and their catalogue.
pub struct Fonts {
    /// Catalogue in the order of `fonts`.
    pub book: LazyHash<FontBook>,
    /// The faces.
    pub fonts: Vec<Font>,
    drawable: HashSet<char>,
}

/// All embedded fonts.
pub fn embedded() -> &'static Fonts {
    static FONTS: OnceLock<Fonts> = OnceLock::new();
    FONTS.get_or_init(|| {
        let mut book = FontBook::new();
        let mut fonts = Vec::new();
        let mut drawable: Option<HashSet<char>> = None;
        for data in typst_assets::fonts() {
            for font in Font::iter(Bytes::new(data)) {
                if font.info().family == TEXT_FAMILY {
                    let covered: HashSet<char> =
                        font.info().coverage.iter().filter_map(char::from_u32).collect();
                    // Drawn upright, slanted, light and bold, or not at all.
                    drawable = Some(match drawable {
                        Some(before) => before.intersection(&covered).copied().collect(),
                        None => covered,
                    });
                }
                book.push(font.info().clone());
                fonts.push(font);
            }
        }
        let drawable = drawable.unwrap_or_default();
        Fonts { book: LazyHash::new(book), fonts, drawable }
    })
}

/// Whether every face of the text typeface has a glyph for the character.
#[must_use]
pub fn can_draw(character: char) -> bool {
    embedded().drawable.contains(&character)
}

/// Width of a text set in the text typeface, in units of the font size.
///
/// Kerning is left out: the sum of advances is an upper estimate good to a
/// few per cent, which is what label placement needs.
#[must_use]
pub fn text_width(text: &str, bold: bool) -> f64 {
    let face = text_face(bold);
    let units = face.map_or(1000.0, FontInstance::units_per_em);
    text.chars()
        .map(|character| {
            let advance = face.and_then(|face| {
                let ttf = face.ttf();
                ttf.glyph_index(character).and_then(|glyph| ttf.glyph_hor_advance(glyph))
            });
            advance.map_or(0.6, |advance| f64::from(advance) / units)
        })
        .sum()
}

fn text_face(bold: bool) -> Option<&'static FontInstance> {
    static FACES: OnceLock<[Option<FontInstance>; 2]> = OnceLock::new();
    let faces = FACES.get_or_init(|| {
        [FontWeight::REGULAR, FontWeight::BOLD].map(|weight| {
            let wanted = embedded().fonts.iter().find(|font| {
                let info = font.info();
                info.family == TEXT_FAMILY
                    && info.variant.style == FontStyle::Normal
                    && info.variant.weight == weight
            });
            wanted.map(|font| {
                font.clone().instantiate(
                    FontVariant::default(),
                    Abs::pt(10.0),
                    &FontVariations::default(),
                )
            })
        })
    });
    faces[usize::from(bold)].as_ref()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_face_is_there_and_has_widths() {
        assert!(text_face(false).is_some() && text_face(true).is_some());
        assert!(text_width("mmmm", false) > text_width("iiii", false));
        assert!(text_width("leak", true) > text_width("leak", false));
    }

    #[test]
    fn the_signs_of_the_trade_can_be_drawn() {
        for sign in "−×·µ³²°±≥≤½⁻⁰¹⁴⁵⁶⁷⁸⁹↔→↑↓…–“”\u{202f}\u{a0}αβγσΔθ".chars()
        {
            assert!(can_draw(sign), "{sign} U+{:04X}", u32::from(sign));
        }
        assert!(!can_draw('\u{4e2d}'));
    }
}

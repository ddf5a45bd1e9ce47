//! Style, scripts and pictures: part of the binary, served under an address
//! that carries a digest of their content, so that a browser keeps them for
//! ever and never keeps an old one.

use crate::digest::sha256;

/// A file as it is served.
pub struct Asset {
    /// Name in the address.
    pub name: String,
    /// Type of content.
    pub kind: &'static str,
    /// The content.
    pub body: axum::body::Bytes,
}

/// All of them.
pub struct Assets {
    /// Style sheet.
    pub style: Asset,
    /// Chosen theme, before anything is drawn.
    pub theme: Asset,
    /// Plots, trace view, keyboard.
    pub script: Asset,
    /// The plotting library.
    pub plotly: Asset,
    /// Picture in the browser's tab.
    pub icon: Asset,
}

const SCRIPT_KIND: &str = "text/javascript; charset=utf-8";

impl Assets {
    /// Reads all of them from the binary.
    pub fn load() -> Self {
        let script = concat!(
            include_str!("assets/colours.js"),
            include_str!("assets/plots.js"),
            include_str!("assets/trace_view.js"),
            include_str!("assets/bench.js"),
            include_str!("assets/tables.js"),
            include_str!("assets/import.js"),
            include_str!("assets/ladder.js"),
            include_str!("assets/keyboard.js"),
        );
        // The twin of a paper document brings its own style; the page's follows.
        let style = format!("{}\n{}", report::html::STYLE_SHEET, include_str!("assets/style.css"));
        Self {
            style: asset("style", "css", "text/css; charset=utf-8", &style),
            theme: asset("theme", "js", SCRIPT_KIND, include_str!("assets/theme.js")),
            script: asset("workbench", "js", SCRIPT_KIND, script),
            plotly: asset("plotly", "js", SCRIPT_KIND, &plotting_library()),
            icon: asset("icon", "svg", "image/svg+xml", include_str!("assets/icon.svg")),
        }
    }

    /// The asset of this name.
    pub fn named(&self, name: &str) -> Option<&Asset> {
        if name == "favicon.ico" {
            return Some(&self.icon);
        }
        [&self.style, &self.theme, &self.script, &self.plotly, &self.icon]
            .into_iter()
            .find(|asset| asset.name == name)
    }
}

impl Asset {
    /// Where it is served.
    pub fn address(&self) -> String {
        format!("/assets/{}", self.name)
    }
}

fn asset(stem: &str, ending: &str, kind: &'static str, body: &str) -> Asset {
    let digest = sha256(body.as_bytes());
    let short = &digest[..16];
    Asset {
        name: format!("{stem}-{short}.{ending}"),
        kind,
        body: axum::body::Bytes::from(body.to_owned().into_bytes()),
    }
}

/// The plotting library alone, cut from the scripts that the crate carries:
/// the first script is the library, the second sets formulas and is left out.
fn plotting_library() -> String {
    let scripts = plotly::Plot::offline_js_sources();
    let opening = "<script type=\"text/javascript\">";
    scripts
        .split(opening)
        .filter_map(|part| part.split("</script>\n").next())
        .find(|body| body.contains("plotly.js v"))
        .map(|body| body.trim_end_matches("</script>").to_owned())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plotting_library_is_whole_and_alone() {
        let library = plotting_library();
        assert!(library.len() > 1_000_000, "{} bytes", library.len());
        assert!(library.contains("newPlot"));
        assert!(!library.contains("</script>\n"));
        assert!(library.len() < 6_000_000, "formulas must be left out: {}", library.len());
    }

    #[test]
    fn addresses_follow_the_content() {
        let one = asset("style", "css", "text/css", "a{}");
        let two = asset("style", "css", "text/css", "b{}");
        assert_ne!(one.name, two.name);
    }
}

//! `--figure FILE.svg`: the answer as a drawing that stands by itself.

use std::path::{Path, PathBuf};

use clap::Args;
use report::figure::{Figure, sheet};

use crate::commands::files;
use crate::fault::Fault;

/// Where a figure of the answer goes, if one is wanted.
#[derive(Args)]
pub struct FigureOption {
    /// Also draw the answer into this SVG file.
    #[arg(long, value_name = "FILE.svg")]
    figure: Option<PathBuf>,
}

impl FigureOption {
    /// Draws the panels into the file; gives the name of the file written.
    pub fn write(&self, panels: impl FnOnce() -> Vec<Figure>) -> Result<Option<String>, Fault> {
        let Some(path) = &self.figure else { return Ok(None) };
        check_name(path)?;
        let panels = panels();
        if panels.is_empty() {
            return Err(Fault::users(
                "there is nothing to draw in this answer",
                "leave out --figure, or give the single readings",
            ));
        }
        let drawing = sheet(&panels).map_err(|error| {
            Fault::users(
                format!("the figure cannot be drawn: {error}"),
                "leave out --figure, or express the values in a unit that brings them near 1",
            )
        })?;
        files::write_whole(path, drawing.as_bytes())?;
        Ok(Some(path.display().to_string()))
    }
}

fn check_name(path: &Path) -> Result<(), Fault> {
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg")) {
        return Ok(());
    }
    Err(Fault::users(
        format!("`{}` does not end in .svg", path.display()),
        "figures are written as SVG: write --figure name.svg",
    ))
}

//! What every page needs: the benchbook, its name and the served assets.

use benchbook::Benchbook;

use super::assets::Assets;

/// Shared by all requests.
pub struct Workbench {
    /// The cases.
    pub benchbook: Benchbook,
    /// Name of the benchbook as people know it.
    pub shown_name: String,
    /// Style, scripts and pictures.
    pub assets: Assets,
}

impl Workbench {
    /// A workbench on a benchbook.
    pub fn new(benchbook: Benchbook, shown_name: String) -> Self {
        Self { benchbook, shown_name, assets: Assets::load() }
    }
}

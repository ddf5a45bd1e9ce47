//! The world the typesetter sees: one template, one data file, the attached
//! files. It has no way to a disk, a package or the network.

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt};

use super::{TypesetError, fonts};

const TEMPLATE: &str = include_str!("template.typ");

/// A closed world for one document.
pub struct World {
    library: LazyHash<Library>,
    template: Source,
    data: Bytes,
    attachments: Vec<Bytes>,
}

impl World {
    /// A world with this data and these attached files.
    ///
    /// # Errors
    /// Never in practice: the template's own path is a constant.
    pub fn new(
        json: Vec<u8>,
        attachments: impl Iterator<Item = Vec<u8>>,
    ) -> Result<Self, TypesetError> {
        let main = VirtualPath::new("template.typ")
            .map_err(|error| TypesetError::Typesetter(format!("{error:?}")))?;
        let main = RootedPath::new(VirtualRoot::Project, main).intern();
        Ok(Self {
            library: LazyHash::new(Library::default()),
            template: Source::new(main, TEMPLATE.to_string()),
            data: Bytes::new(json),
            attachments: attachments.map(Bytes::new).collect(),
        })
    }
}

impl typst::World for World {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &fonts::embedded().book
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() { Ok(self.template.clone()) } else { Err(closed(id)) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let rooted = id.get();
        if !matches!(rooted.root(), VirtualRoot::Project) {
            return Err(closed(id));
        }
        let path = rooted.vpath().get_without_slash();
        if path == "data.json" {
            return Ok(self.data.clone());
        }
        path.strip_prefix("attachment/")
            .and_then(|index| index.parse::<usize>().ok())
            .and_then(|index| self.attachments.get(index).cloned())
            .ok_or_else(|| closed(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        fonts::embedded().fonts.get(index).cloned()
    }

    /// The template never asks; a clock would change the bytes.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn closed(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_without_slash().into())
}

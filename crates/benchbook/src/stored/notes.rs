//! Notes on a result.

use study::notes::{Note, Weight};

use super::shape::{Word, shape, words};

words!(Weight);

shape! {
    NoteShape of Note { code: String, weight: Word, text: String, next_step: String }
}

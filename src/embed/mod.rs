//! The copy of the knowledge that the program carries: its texts, and the book made from them when the program was built.
//!
//! The book is read from its packed form, so that starting costs no parsing; a knowledge file with an error stops the build. The texts are
//! there to have a person's own folder laid over them. Never reads a file.

use crate::knowledge::{Book, Files, load};

include!(concat!(env!("OUT_DIR"), "/embedded.rs"));

/// The book, packed by the build script.
static PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/book.bin"));

/// The texts of the built-in knowledge.
pub fn files() -> Files {
    Files::texts(EMBEDDED.iter().copied())
}

/// The built-in book.
pub fn book() -> Book {
    match postcard::from_bytes(PACKED) {
        Ok(book) => book,
        Err(e) => {
            // Cannot come from outside: the bytes are part of the program.
            tracing::error!(%e, "the packed book cannot be read; the texts are");
            load(&files()).book
        }
    }
}

/// The packed book as bytes, to tell one edition from another.
pub fn packed() -> &'static [u8] {
    PACKED
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_packed_book_is_the_book_of_the_texts() {
        let from_texts = load(&files()).book;
        let packed = postcard::to_allocvec(&from_texts).expect("a book can be packed");
        assert!(packed == PACKED, "the packed book differs from what the texts give");
        assert_eq!(book().faults.len(), from_texts.faults.len());
    }
}

//! Reads the tables of `tests/reference/` (tab-separated, first line the column names), and loads the built-in knowledge once for all.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use splitpin::embed;
use splitpin::knowledge::Book;

/// A line of a table: cells by column.
pub type Row = BTreeMap<&'static str, &'static str>;

/// The rows of a table. Every row has every column, and says where it comes from and how sure that is.
pub fn rows(name: &str, text: &'static str) -> Vec<Row> {
    let mut lines = text.lines();
    let columns: Vec<&str> = lines.next().expect("a line of column names").split('\t').collect();
    let source = if columns.contains(&"source") { "source" } else { "source_url" };
    let mut out = Vec::new();
    for (i, line) in lines.enumerate() {
        let cells: Vec<&str> = line.split('\t').collect();
        assert_eq!(cells.len(), columns.len(), "{name}, row {}: {line}", i + 2);
        let row: Row = columns.iter().copied().zip(cells).collect();
        for column in [source, "certainty"] {
            assert!(!row[column].is_empty(), "{name}, row {}: no {column}", i + 2);
        }
        out.push(row);
    }
    assert!(!out.is_empty(), "{name} is empty");
    out
}

/// The built-in knowledge.
pub fn book() -> &'static Book {
    static BOOK: OnceLock<Book> = OnceLock::new();
    BOOK.get_or_init(embed::book)
}

/// The number in a cell.
pub fn number(cell: &str) -> f64 {
    cell.parse().unwrap_or_else(|_| panic!("`{cell}` is no number"))
}

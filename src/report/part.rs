//! A report's parts, neutral of format: sections build them, writers print them.

/// A section of the report.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Anchor in the page.
    pub id: &'static str,
    pub title: String,
    pub parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    Heading(String),
    Text(String),
    List(Vec<String>),
    Table(Table),
    Figure(Figure),
    /// A caution or a limit, set apart.
    Notice(String),
    /// Folded away until asked for.
    Folded {
        title: String,
        parts: Vec<Part>,
    },
}

/// Rounded for reading; numbers right-aligned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<String>>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    pub title: String,
    pub numeric: bool,
}

/// A picture, with what it shows in words and the table behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    pub id: &'static str,
    /// Says what the picture shows.
    pub title: String,
    pub svg: String,
    pub caption: String,
    pub table: Option<Table>,
}

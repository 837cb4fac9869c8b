//! A report's parts, neutral of format: sections build them, writers print them.
//!
//! Texts here are plain text, never markup; escaping is the writers' work. Only [`Figure::svg`] and
//! [`Key::symbol`] are markup, made by `plot`, which has escaped what it was given.

/// A section of the report.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Anchor in the page.
    pub id: &'static str,
    pub title: &'static str,
    pub parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// The sentence that a hurried reader must not miss.
    Lead(String),
    Heading(String),
    Text(String),
    List(Vec<String>),
    /// Short label and value, side by side.
    Facts(Vec<Fact>),
    /// Questions in a word or two, each with its answer in sentences.
    Answers(Vec<Answer>),
    Table(Table),
    /// Figures that belong together, side by side where there is room.
    Figures(Vec<Figure>),
    /// What to do where: one entry per row of the block.
    Entries(Vec<Entry>),
    /// A caution or a limit, set apart.
    Notice(String),
    /// Folded away until asked for.
    Folded {
        title: String,
        parts: Vec<Part>,
    },
}

#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    pub question: &'static str,
    pub said: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    pub label: String,
    pub value: String,
    /// What stands behind the value, or how sure it is; may be empty.
    pub note: String,
}

/// Rounded for reading; numbers right-aligned.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<String>>,
    /// Index of a row that stands out, such as the recommended option.
    pub marked: Option<usize>,
    /// The name for files and scripts of what each row is about, in small type behind its first cell; empty: none.
    pub keys: Vec<String>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    pub title: String,
    pub numeric: bool,
}

impl Column {
    pub fn text(title: &str) -> Self {
        Column { title: title.into(), numeric: false }
    }

    pub fn number(title: &str) -> Self {
        Column { title: title.into(), numeric: true }
    }
}

/// A picture, with what it shows in words and the table behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    pub id: String,
    /// Says what the picture shows.
    pub title: String,
    pub svg: String,
    pub caption: String,
    pub key: Vec<Key>,
    pub table: Option<Table>,
}

/// One line of a figure's key.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// The sign as a small SVG.
    pub symbol: String,
    pub label: String,
    /// How many there are; may be empty.
    pub count: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    pub title: String,
    pub note: String,
    pub lines: Vec<EntryLine>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct EntryLine {
    /// A letter or two for tape and pencil.
    pub tag: String,
    pub label: String,
    pub text: String,
}

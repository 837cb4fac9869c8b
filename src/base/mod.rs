//! Units, seeds, assumptions, published sources, findings, sentences. Knows nothing of plants.

pub mod assumption;
pub mod document;
pub mod finding;
pub mod known;
pub mod label;
pub mod quantity;
pub mod seed;
pub mod source;
pub mod units;
pub mod words;

pub use assumption::{Assumption, Assumptions};
pub use document::{Documented, Header, document};
pub use finding::Finding;
pub use known::{Estimate, Known, Why};
pub use quantity::{Quantity, Scale};
pub use seed::Seed;
pub use source::SourceKey;

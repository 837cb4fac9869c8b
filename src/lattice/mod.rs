//! Pattern tests on marked points of a grid. Knows lines and steps, not rows and vines.
//!
//! | file | what it is for |
//! | --- | --- |
//! | [`grid`] | sites on lines and steps, and which of them are neighbours |
//! | [`joins`] | join counts of a mark with their exact moments |
//! | [`moran()`] | Moran's I with its moments |
//!
//! Moments stand on the neighbour graph as it is: holes, ends and gaps change them.

pub mod grid;
pub mod joins;
pub mod moran;

pub use grid::{Graph, Line, Neighbours, Site};
pub use joins::{JoinCounts, Moments, expected_products, join_counts};
pub use moran::moran;

//! Pattern tests on marked points of a grid. Knows lines and steps, not rows and vines.
//!
//! | file | what it is for |
//! | --- | --- |
//! | [`board`] | marks as bits, so that the joins of many arrangements are counted fast |
//! | [`colours`] | join counts of several colours |
//! | [`dealt_counts`] | counts per cell of marks dealt anew within strata |
//! | [`dealt_joins`] | joins of marks dealt anew within strata |
//! | [`grid`] | sites on lines and steps, and which of them are neighbours |
//! | [`joins`] | join counts of a mark with their exact moments |
//! | [`moran()`] | Moran's I with its moments |
//! | [`quadrats`](mod@quadrats) | counts in small rectangles, and their dispersion |
//! | [`scan`] | the window of ground in which marks exceed chance the most |
//! | [`sequence`] | runs and doublets along a line |
//!
//! Moments stand on the neighbour graph as it is: holes, ends and gaps change them.

pub mod board;
pub mod colours;
pub mod dealt_counts;
pub mod dealt_joins;
pub mod grid;
pub mod joins;
pub mod moran;
pub mod quadrats;
pub mod scan;
pub mod sequence;

pub use board::{Board, Joins};
pub use colours::{ColourJoins, ManyColours, colour_joins};
pub use dealt_counts::{DealtCounts, Tallies, counted};
pub use dealt_joins::{Bits, DealtJoins, JoinSums};
pub use grid::{Graph, Line, Neighbours, Site};
pub use joins::{JoinCounts, Moments, expected_products, join_counts};
pub use moran::moran;
pub use quadrats::{QuadratIndices, QuadratSize, quadrat_counts, quadrat_indices, quadrats};
pub use scan::{Scan, ScanConfig, Shapes};
pub use sequence::{CombinedRuns, LineRuns, combined_runs};

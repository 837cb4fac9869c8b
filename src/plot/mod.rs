//! Results to SVG. Computes no statistic.

//! Pattern tests on marked points of a grid. Knows lines and steps, not rows and vines.

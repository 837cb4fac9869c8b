//! Row-aligned rectangles: a stretch of lines times a stretch of steps.

use super::Share;
use std::ops::Range;

/// Rectangles of a grid of cells: each stretch of lines with each stretch of steps.
#[derive(Clone, Debug)]
pub(super) struct Rectangles {
    pub lines: Vec<Range<usize>>,
    /// Stretches of steps by size, so that many are looked at in one go.
    pub groups: Vec<Group>,
    steps: Vec<Range<usize>>,
    pub share: Share,
}

/// Stretches of one size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Group {
    pub size: usize,
    /// Each begins so far after the one before.
    pub stride: usize,
    pub number: usize,
}

impl Group {
    fn stretches(self) -> impl Iterator<Item = Range<usize>> {
        (0..self.number).map(move |k| k * self.stride..k * self.stride + self.size)
    }
}

impl Rectangles {
    pub fn new(lines: usize, steps: usize, every_up_to: u64) -> Self {
        let all = |length: usize| length as u64 * (length as u64 + 1) / 2;
        let every = all(lines).saturating_mul(all(steps)) <= every_up_to;
        let groups = |length: usize| match every {
            true => groups(1..=length, length, |_| 1),
            false => groups(ladder(length), length, |size| size.div_ceil(3)),
        };
        let of_lines = groups(lines).into_iter().flat_map(Group::stretches).collect();
        let groups = groups(steps);
        let of_steps = groups.iter().flat_map(|group| group.stretches()).collect();
        let mut rectangles = Rectangles { lines: of_lines, groups, steps: of_steps, share: Share::None };
        let windows = rectangles.windows();
        rectangles.share = if every { Share::Every(windows) } else { Share::Ladder(windows) };
        rectangles
    }

    /// No window.
    pub fn none() -> Self {
        Rectangles { lines: Vec::new(), groups: Vec::new(), steps: Vec::new(), share: Share::None }
    }

    /// Stretches of steps.
    pub fn width(&self) -> usize {
        self.steps.len()
    }

    pub fn windows(&self) -> usize {
        self.lines.len() * self.width()
    }

    /// Lines and steps of a window.
    pub fn window(&self, window: usize) -> (Range<usize>, Range<usize>) {
        let width = self.width().max(1);
        let stretch = |of: &[Range<usize>], at: usize| of.get(at).cloned().unwrap_or(0..0);
        (stretch(&self.lines, window / width), stretch(&self.steps, window % width))
    }
}

/// Stretches of these sizes along `length`, each moved by the size's stride after the one before.
fn groups(sizes: impl IntoIterator<Item = usize>, length: usize, stride: impl Fn(usize) -> usize) -> Vec<Group> {
    let group = |size: usize| {
        let stride = stride(size).max(1);
        Group { size, stride, number: (length - size) / stride + 1 }
    };
    sizes.into_iter().filter(|size| *size <= length).map(group).collect()
}

/// 1, 2, 3, 4, 6, 8, 12, 16 … and the whole length.
fn ladder(length: usize) -> Vec<usize> {
    let doubled =
        |first: usize| std::iter::successors(Some(first), |size| size.checked_mul(2)).take_while(|s| *s < length);
    let mut sizes: Vec<usize> = doubled(1).chain(doubled(3)).chain([length]).collect();
    sizes.sort_unstable();
    sizes
}

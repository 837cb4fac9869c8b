//! Sites on lines and steps, and which of them are neighbours.

/// A site: the index of its line, and its step along the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Site {
    pub line: u32,
    pub step: i32,
}

/// What is special about a line; the default is nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Line {
    /// Whole steps by which the line is shifted against the others.
    pub offset: i32,
    /// Something lies between this line and the one before: their sites are no neighbours.
    pub gap_before: bool,
}

/// Which sites count as neighbours, one line or one step apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Neighbours {
    /// On the same line.
    Along,
    /// On the next line, at the same step.
    Across,
    /// Both: the rook's moves.
    Rook,
    /// Both, and diagonally: the queen's moves.
    Queen,
}

impl Neighbours {
    /// The neighbours of a site that come after it, as (lines, steps); those before it are their mirror images.
    fn moves(self) -> &'static [(u32, i32)] {
        match self {
            Neighbours::Along => &[(0, 1)],
            Neighbours::Across => &[(1, 0)],
            Neighbours::Rook => &[(0, 1), (1, 0)],
            Neighbours::Queen => &[(0, 1), (1, 0), (1, 1), (1, -1)],
        }
    }
}

/// The neighbour graph of some sites.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Graph {
    /// Number of sites.
    pub sites: usize,
    /// Joins between neighbours, as indices of sites, each once.
    pub joins: Vec<(u32, u32)>,
}

impl Graph {
    /// Joins the neighbours among `sites`, in any order; where two share a place, the first is joined.
    /// `lines` may be shorter than the lines in use: the others have nothing special.
    pub fn new(sites: &[Site], lines: &[Line], neighbours: Neighbours) -> Self {
        let line = |index: u32| lines.get(index as usize).copied().unwrap_or_default();
        let shifted = |site: &Site| Site { step: site.step.saturating_add(line(site.line).offset), ..*site };
        let mut placed: Vec<(Site, u32)> = sites.iter().zip(0..).map(|(site, index)| (shifted(site), index)).collect();
        placed.sort_unstable();
        placed.dedup_by_key(|(site, _)| *site);
        let find = |site: Site| placed.binary_search_by_key(&site, |p| p.0).ok().map(|at| placed[at].1);
        let reach = |site: Site, &(lines, steps): &(u32, i32)| {
            let next = site.line.checked_add(lines)?;
            let open = lines == 0 || !line(next).gap_before;
            open.then_some(Site { line: next, step: site.step.checked_add(steps)? })
        };
        let joins_of = |&(site, index): &(Site, u32)| {
            let reached = neighbours.moves().iter().filter_map(move |step| reach(site, step));
            reached.filter_map(find).map(move |other| (index, other))
        };
        Graph { sites: sites.len(), joins: placed.iter().flat_map(joins_of).collect() }
    }

    /// Number of neighbours of each site.
    pub fn degrees(&self) -> Vec<u32> {
        let mut degrees = vec![0; self.sites];
        for &(a, b) in &self.joins {
            degrees[a as usize] += 1;
            degrees[b as usize] += 1;
        }
        degrees
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(lines: u32, steps: i32) -> Vec<Site> {
        (0..lines).flat_map(|line| (1..=steps).map(move |step| Site { line, step })).collect()
    }

    fn count(sites: &[Site], lines: &[Line], neighbours: Neighbours) -> usize {
        Graph::new(sites, lines, neighbours).joins.len()
    }

    #[test]
    fn a_full_grid_has_the_joins_one_counts() {
        let sites = grid(3, 4);
        let n = [Neighbours::Along, Neighbours::Across, Neighbours::Rook, Neighbours::Queen];
        assert_eq!(n.map(|n| count(&sites, &[], n)), [9, 8, 17, 29]);
        let degrees = Graph::new(&sites, &[], Neighbours::Queen).degrees();
        assert_eq!((degrees[0], degrees[1], degrees[5]), (3, 5, 8));
    }

    #[test]
    fn holes_gaps_and_offsets_change_the_joins() {
        let mut sites = grid(2, 4);
        sites.remove(1); // line 0, step 2
        assert_eq!(count(&sites, &[], Neighbours::Rook), 1 + 3 + 3);
        let gap = [Line::default(), Line { gap_before: true, offset: 0 }];
        assert_eq!(count(&sites, &gap, Neighbours::Rook), 4);
        // Line 1 begins two steps further on: its first two sites lie beside steps 3 and 4.
        let offset = [Line::default(), Line { gap_before: false, offset: 2 }];
        assert_eq!(count(&sites, &offset, Neighbours::Across), 2);
    }

    #[test]
    fn the_order_of_sites_changes_nothing_and_nothing_overflows() {
        let mut sites = grid(3, 3);
        sites.reverse();
        assert_eq!(count(&sites, &[], Neighbours::Rook), 12);
        let ends = [Site { line: u32::MAX, step: i32::MAX }, Site { line: u32::MAX, step: i32::MIN }];
        assert_eq!(count(&ends, &[], Neighbours::Queen), 0);
        assert_eq!(count(&[], &[], Neighbours::Rook), 0);
    }
}

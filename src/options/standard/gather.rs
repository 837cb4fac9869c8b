//! Gather the survivors into fewer rows and plant the freed rows with another variety.

use super::Standard;
use crate::base::words::options as words;
use crate::block::{Do, Step, Which};
use crate::options::plan::Problem;
use crate::options::scene::{Scene, Unit};

pub const OPTION: Standard = Standard { name: words::GATHER, what: words::GATHER_WHAT, steps };

fn steps(scene: &Scene) -> Result<Vec<Step>, Problem> {
    let freed = rows_to_free(scene);
    if freed.is_empty() {
        return Err(Problem::new(words::NO_ROW_TO_FREE, words::NO_ROW_TO_FREE_HELP));
    }
    let plant = scene.step(Which::All, &freed, Do::Plant, Some(scene.catalogue.another_variety));
    Ok(vec![scene.step(Which::Living, &freed, Do::Move, None), plant])
}

/// Rows with the fewest living first, as long as the gaps of the rows that stay take in all vines of those freed.
/// Limited to `free_rows` of block.toml's limits where it names any.
fn rows_to_free(scene: &Scene) -> Vec<u32> {
    let mut rows: Vec<RowCount> = (0..scene.block.layout.rows.len() as u32).map(|r| RowCount::of(scene, r)).collect();
    rows.sort_by_key(|r| (r.living, r.row));
    let mut gaps: u64 = rows.iter().map(|r| r.gaps).sum();
    let (mut moved, mut freed) = (0, Vec::new());
    for row in rows.iter().filter(|r| r.living + r.gaps > 0 && may_be_freed(scene, r.row)) {
        if moved + row.living > gaps - row.gaps {
            break;
        }
        moved += row.living;
        gaps -= row.gaps;
        freed.push(row.row);
    }
    freed.sort_unstable();
    // Nothing lives: there are no survivors to gather.
    if moved == 0 && scene.count(|u| !u.is_failed()) == 0 { Vec::new() } else { freed }
}

struct RowCount {
    row: u32,
    living: u64,
    gaps: u64,
}

impl RowCount {
    fn of(scene: &Scene, row: u32) -> Self {
        let here = |u: &Unit| u.row == Some(row);
        let gaps = scene.count(|u| here(u) && u.is_failed());
        RowCount { row, living: scene.count(here) - gaps, gaps }
    }
}

fn may_be_freed(scene: &Scene, row: u32) -> bool {
    let allowed = &scene.block.limits.free_rows;
    let label = scene.block.layout.rows.get(row as usize).map(|r| &r.label);
    allowed.is_empty() || label.is_some_and(|l| allowed.contains(l))
}

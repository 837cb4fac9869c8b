//! Vine histories to counts, on blocks built by hand.

use fullstand::base::Assumptions;
use fullstand::block::*;
use fullstand::lattice::{Line, Site};
use fullstand::tally::{Counts, NoTally, Outcome, Standing, Tally, tally};
use jiff::civil::{Date, date};

pub fn planting() -> Date {
    date(2024, 5, 10)
}

pub fn autumn() -> Date {
    date(2024, 9, 20)
}

fn next_autumn() -> Date {
    date(2025, 9, 22)
}

pub fn place(row: u32, position: u32) -> Place {
    Place { row, position }
}

/// A register under construction; vines are given in order of place, then date.
#[derive(Default)]
pub struct Plot {
    pub vines: Vec<Vine>,
    batches: Vec<&'static str>,
    pub walks: Vec<Walk>,
}

impl Plot {
    pub fn plant(&mut self, at: Place, batch: &'static str, on: Date) -> &mut Vine {
        self.batches.push(batch);
        self.vines.push(Vine {
            place: at,
            planted_on: Some(on),
            planted_seq: None,
            removed_on: None,
            removed_why: None,
            moved_from: None,
            x_y_m: None,
            line: 2,
        });
        self.vines.last_mut().unwrap()
    }

    /// One row of vines of a batch.
    pub fn row(row: u32, vines: u32, batch: &'static str) -> Self {
        let mut plot = Plot::default();
        plot.add_row(row, vines, batch);
        plot
    }

    pub fn add_row(&mut self, row: u32, vines: u32, batch: &'static str) {
        for position in 1..=vines {
            self.plant(place(row, position), batch, planting());
        }
    }

    pub fn walk(&mut self, on: Date, looks: &[(u32, State)]) {
        let looks = looks.iter().map(|&(vine, state)| look(vine, on, state)).collect();
        self.walks.push(Walk { label: on.to_string(), first_day: on, last_day: on, looks });
    }

    pub fn block(self) -> Block {
        let rows = self.vines.iter().map(|v| v.place.row).max().unwrap_or(0);
        let longest = |row| self.vines.iter().filter(|v| v.place.row == row).map(|v| v.place.position).max();
        let layout = Layout {
            row_spacing_m: Some(2.4),
            vine_spacing_m: Some(1.1),
            planted: PlantingOrder::Serpentine,
            rows: (0..=rows).map(|r| row_of(r, longest(r).unwrap_or(0))).collect(),
            ..Layout::default()
        };
        let factors = vec![batch_factor(&self.batches)];
        block(layout, Plants::Vines(Register { vines: self.vines, factors, walks: self.walks }))
    }
}

pub fn row_of(row: u32, places: u32) -> RowLayout {
    RowLayout { label: (row + 1).to_string(), places, ..RowLayout::default() }
}

pub fn batch_factor(batches: &[&str]) -> Factor {
    let mut levels: Vec<String> = batches.iter().filter(|b| !b.is_empty()).map(|b| b.to_string()).collect();
    levels.sort();
    levels.dedup();
    let code = |b: &&str| levels.iter().position(|l| l == b).map_or(UNKNOWN, |c| c as Code);
    Factor { name: "batch".into(), codes: batches.iter().map(code).collect(), levels }
}

pub fn block(layout: Layout, plants: Plants) -> Block {
    Block {
        name: "Test".into(),
        currency: "EUR".into(),
        planted_on: Some(planting()),
        hemisphere: Hemisphere::North,
        layout,
        plants,
        deliveries: Vec::new(),
        diary: Vec::new(),
        terms: Default::default(),
        materials: Vec::new(),
        courses: Vec::new(),
        goal: Goal::default(),
        limits: Limits::default(),
        assumptions: Assumptions::default(),
    }
}

fn look(vine: VineIx, date: Date, state: State) -> Look {
    Look {
        vine,
        date,
        state,
        height_cm: None,
        diameter_mm: None,
        reached_wire: None,
        vigour: None,
        stage_bbch: None,
        union: None,
        union_height_cm: None,
        detail: None,
        line: 2,
    }
}

/// Counts of one batch over all its cells.
fn of_batch(tally: &Tally, label: &str) -> Counts {
    let at = tally.factors.iter().position(|f| f.name == "batch").unwrap();
    let code = tally.factors[at].levels.iter().position(|l| l == label).unwrap() as Code;
    let mut sum = Counts::default();
    tally.cells.iter().filter(|c| c.codes[at] == code).for_each(|c| sum.add(&c.counts));
    sum
}

/// Asserts that the cells add up to the total and the kinds of failure to the failures.
#[track_caller]
fn adds_up(tally: &Tally) {
    let mut sum = Counts::default();
    tally.cells.iter().for_each(|c| sum.add(&c.counts));
    assert_eq!(sum, tally.total);
    assert_eq!(sum.failed, sum.missing + sum.never_grew + sum.died + sum.dead + sum.scion_dead);
    assert!(tally.cells.is_sorted_by(|a, b| a.codes < b.codes));
}

/// Rows planted in a serpentine and walked once, from the batch and the state of each vine in the order of position.
pub fn walked(rows: &[Vec<(&'static str, State)>]) -> Plot {
    let mut plot = Plot::default();
    let mut states = Vec::new();
    for (row, vines) in rows.iter().enumerate() {
        for (i, &(batch, state)) in vines.iter().enumerate() {
            plot.plant(place(row as u32, i as u32 + 1), batch, planting());
            states.push((states.len() as u32, state));
        }
    }
    plot.walk(autumn(), &states);
    plot
}

#[test]
fn a_batch_whose_gaps_another_filled_keeps_its_failures() {
    let mut plot = Plot::default();
    for position in 1..=500 {
        let dead = position % 25 < 3; // 60 of 500
        let vine = plot.plant(place(0, position), "L1", planting());
        if dead {
            (vine.removed_on, vine.removed_why) = (Some(date(2025, 2, 1)), Some(RemovedWhy::Failed));
            plot.plant(place(0, position), "L2", date(2025, 3, 1));
        }
    }
    let state = |plot: &Plot, ix: usize| match plot.vines[ix].removed_why {
        Some(_) => State::Dead,
        None => State::Alive,
    };
    let all = 0..plot.vines.len();
    let first: Vec<_> = all.clone().filter(|&i| plot.batches[i] == "L1").map(|i| (i as u32, state(&plot, i))).collect();
    let second: Vec<_> =
        all.filter(|&i| plot.vines[i].removed_on.is_none()).map(|i| (i as u32, State::Alive)).collect();
    plot.walk(autumn(), &first);
    plot.walk(next_autumn(), &second);
    let block = plot.block();

    let later = tally(&block, None).unwrap();
    adds_up(&later);
    let (one, two) = (of_batch(&later, "L1"), of_batch(&later, "L2"));
    assert_eq!((one.planted, one.seen, one.failed), (500, 500, 60));
    assert_eq!((two.planted, two.seen, two.failed), (60, 60, 0));
    let field = later.field.unwrap();
    assert_eq!(field.places.iter().filter(|p| p.standing == Standing::Alive).count(), 500);
    assert_eq!((field.points.len(), field.points.iter().filter(|p| p.failed).count()), (500, 60));

    // At the walk before, the replants and the removals don't exist yet.
    let earlier = tally(&block, Some(autumn())).unwrap();
    assert_eq!((earlier.total.planted, earlier.total.seen, earlier.total.failed), (500, 500, 60));
    assert_eq!(earlier.factors.iter().find(|f| f.name == "batch").unwrap().levels, ["L1"]);
    assert_eq!(earlier.outcomes.iter().filter(|o| **o == Outcome::NotCounted).count(), 60);
    let failed = earlier.field.unwrap().places.iter().filter(|p| p.standing == Standing::Failed(State::Dead)).count();
    assert_eq!(failed, 60);
}

#[test]
fn a_moved_vine_is_a_failure_nowhere_and_stands_where_it_is_now() {
    let mut plot = Plot::row(0, 2, "L1");
    (plot.vines[0].removed_on, plot.vines[0].removed_why) = (Some(date(2025, 2, 1)), Some(RemovedWhy::Moved));
    plot.plant(place(1, 1), "L1", date(2025, 2, 1)).moved_from = Some(place(0, 1));
    plot.walk(autumn(), &[(0, State::Alive), (1, State::Alive)]);
    // Whoever writes "missing" at the old place says nothing of the vine; it died where it went to.
    plot.walk(next_autumn(), &[(0, State::Missing), (1, State::Alive), (2, State::Dead)]);
    let tally = tally(&plot.block(), None).unwrap();
    adds_up(&tally);
    assert_eq!(tally.outcomes, [Outcome::LeftAlive, Outcome::Alive, Outcome::NotCounted]);
    assert_eq!((tally.total.planted, tally.total.seen, tally.total.failed), (2, 2, 0));
    let standing: Vec<Standing> = tally.field.unwrap().places.iter().map(|p| p.standing).collect();
    assert_eq!(standing, [Standing::Empty, Standing::Alive, Standing::Failed(State::Dead)]);
}

#[test]
fn a_move_that_only_the_new_line_records_empties_the_old_place() {
    let mut plot = Plot::row(0, 1, "L1");
    plot.plant(place(1, 1), "L1", date(2025, 2, 1)).moved_from = Some(place(0, 1));
    plot.walk(next_autumn(), &[(0, State::Missing), (1, State::Alive)]);
    let tally = tally(&plot.block(), None).unwrap();
    assert_eq!(tally.outcomes, [Outcome::LeftAlive, Outcome::NotCounted]);
    let field = tally.field.unwrap();
    assert_eq!(field.places[0].standing, Standing::Empty);
    assert_eq!(field.points.len(), 1); // the moved vine's new place is not of the first planting
}

#[test]
fn a_vine_moved_in_from_elsewhere_counts_where_its_first_line_is_missing() {
    let mut plot = Plot::row(0, 1, "L1");
    plot.vines[0].moved_from = Some(place(7, 7));
    plot.walk(autumn(), &[(0, State::Dead)]);
    assert_eq!(tally(&plot.block(), None).unwrap().total.failed, 1);
}

#[test]
fn a_cleared_row_kills_nobody() {
    let mut plot = Plot::row(0, 4, "L1");
    for vine in &mut plot.vines {
        (vine.removed_on, vine.removed_why) = (Some(date(2025, 3, 1)), Some(RemovedWhy::Cleared));
    }
    plot.walk(autumn(), &[(0, State::Alive), (1, State::Dead), (2, State::Unsure)]);
    plot.walk(next_autumn(), &[(0, State::Missing)]);
    let tally = tally(&plot.block(), None).unwrap();
    adds_up(&tally);
    // The one seen dead before stays dead; the others left alive.
    use Outcome::{Failed, LeftAlive};
    assert_eq!(tally.outcomes, [LeftAlive, Failed(State::Dead), LeftAlive, LeftAlive]);
    assert_eq!((tally.total.seen, tally.total.failed), (4, 1));
    assert!(tally.field.unwrap().places.iter().all(|p| p.standing == Standing::Empty));
}

#[test]
fn late_buds_push_and_a_failure_stands_until_they_do() {
    let mut plot = Plot::row(0, 4, "L1");
    let early = date(2024, 6, 20);
    plot.walk(early, &[0, 1, 2, 3].map(|v| (v, State::NoBudburst)));
    plot.walk(autumn(), &[(0, State::Alive), (1, State::Unsure), (2, State::Dead)]);
    plot.walk(next_autumn(), &[(0, State::NoBudburst)]);
    let block = plot.block();
    use Outcome::{Alive, Failed};
    let at = |day| tally(&block, Some(day)).unwrap();
    assert_eq!((at(early).total.failed, at(early).total.never_grew), (4, 4));
    // Alive ends it; unsure, "dead" and not looked at leave what was told before.
    let never = Failed(State::NoBudburst);
    assert_eq!(at(autumn()).outcomes, [Alive, never, never, never]);
    // No buds after a season alive: it grew, then died.
    assert_eq!(at(next_autumn()).outcomes, [Failed(State::Died), never, never, never]);
    assert_eq!((at(next_autumn()).total.died, at(next_autumn()).total.never_grew), (1, 3));
    adds_up(&at(next_autumn()));
}

#[test]
fn not_looked_at_and_unsure_are_neither_alive_nor_failed() {
    let mut plot = Plot::row(0, 3, "L1");
    plot.walk(autumn(), &[(0, State::Alive), (1, State::Alive)]);
    plot.walk(next_autumn(), &[(1, State::Unsure)]);
    let tally = tally(&plot.block(), None).unwrap();
    adds_up(&tally);
    assert_eq!(tally.outcomes, [Outcome::NotSeen, Outcome::Unsure, Outcome::NotSeen]);
    let total = tally.total;
    assert_eq!((total.planted, total.seen, total.failed, total.unsure), (3, 0, 0, 1));
    assert_eq!(tally.walk, Some((next_autumn(), next_autumn())));
    assert!(tally.field.unwrap().points.is_empty());
}

#[test]
fn removal_decides_what_no_look_has() {
    let mut plot = Plot::row(0, 4, "L1");
    let why = [RemovedWhy::Failed, RemovedWhy::Other, RemovedWhy::Dug, RemovedWhy::Moved];
    for (vine, why) in plot.vines.iter_mut().zip(why) {
        (vine.removed_on, vine.removed_why) = (Some(date(2024, 7, 1)), Some(why));
    }
    plot.walk(autumn(), &[]);
    use Outcome::{Failed, LeftAlive, NotSeen};
    let block = plot.block();
    assert_eq!(tally(&block, None).unwrap().outcomes, [Failed(State::Dead), NotSeen, LeftAlive, LeftAlive]);
}

#[test]
fn a_replant_over_a_vine_never_seen_failed_leaves_its_outcome_unknown() {
    let mut plot = Plot::default();
    plot.plant(place(0, 1), "L1", planting());
    plot.plant(place(0, 1), "L2", date(2025, 3, 1));
    plot.plant(place(0, 2), "L1", planting());
    plot.plant(place(0, 2), "L2", date(2025, 3, 1));
    plot.walk(autumn(), &[(0, State::Alive), (2, State::Missing)]);
    plot.walk(next_autumn(), &[(1, State::Alive), (3, State::Alive)]);
    let tally = tally(&plot.block(), None).unwrap();
    use Outcome::{Alive, Failed, NotSeen};
    assert_eq!(tally.outcomes, [NotSeen, Alive, Failed(State::Missing), Alive]);
    assert_eq!((tally.total.failed, tally.total.missing), (1, 1));
    let points = tally.field.unwrap().points;
    assert_eq!((points.len(), points[0].missing), (1, true));
}

#[test]
fn vigour_is_known_or_not() {
    let mut plot = Plot::row(0, 5, "L1");
    plot.walk(autumn(), &[0, 1, 2, 3, 4].map(|v| (v, State::Alive)));
    let looks = &mut plot.walks[0].looks;
    looks[0].reached_wire = Some(true);
    (looks[1].reached_wire, looks[1].vigour) = (Some(false), Some(6));
    looks[2].vigour = Some(5);
    looks[3].reached_wire = Some(false);
    let total = tally(&plot.block(), None).unwrap().total;
    assert_eq!((total.good, total.weak, total.reached_wire, total.wire_seen), (2, 2, 1, 3));
}

#[test]
fn walks_are_found_by_any_of_their_days() {
    let mut plot = Plot::row(0, 1, "L1");
    assert_eq!(tally(&Plot::row(0, 1, "L1").block(), None).unwrap_err(), NoTally::NoWalk);
    plot.walk(autumn(), &[(0, State::Alive)]);
    plot.walks[0].last_day = date(2024, 9, 24);
    let block = plot.block();
    assert!(tally(&block, Some(date(2024, 9, 22))).is_ok());
    let other = date(2024, 10, 1);
    assert_eq!(tally(&block, Some(other)).unwrap_err(), NoTally::NoSuchWalk(other));
}

/// Two rows of four; row 1 is planted up, row 2 down: L1 L1 L2 L2 | L2 L1 - L1 in the planters' order.
fn two_rows() -> Plot {
    let mut plot = Plot::default();
    let batches = [["L1", "L1", "L2", "L2"], ["L1", "", "L1", "L2"]];
    for (row, batches) in batches.into_iter().enumerate() {
        for (i, batch) in batches.into_iter().enumerate() {
            plot.plant(place(row as u32, i as u32 + 1), batch, planting());
        }
    }
    plot.walk(autumn(), &[0, 2, 3, 4, 5, 6, 7].map(|v| (v, State::Alive))); // vine 1 wasn't looked at
    plot
}

fn runs_of(block: &Block) -> Vec<(Code, u32, Vec<u32>)> {
    let field = tally(block, None).unwrap().field.unwrap();
    let vines = |points: &[u32]| points.iter().map(|&p| field.points[p as usize].vine).collect();
    field.runs.iter().map(|r| (r.batch, r.row, vines(&r.points))).collect()
}

#[test]
fn runs_follow_the_planters_walk() {
    let mut block = two_rows().block();
    let (l1, l2) = (0, 1);
    let serpentine = [(l1, 0, vec![0]), (l2, 0, vec![2, 3, 7]), (l1, 1, vec![6]), (l1, 1, vec![4])];
    assert_eq!(runs_of(&block), serpentine);
    block.layout.planted = PlantingOrder::SameEnd;
    let same_end = [(l1, 0, vec![0]), (l2, 0, vec![2, 3]), (l1, 1, vec![4]), (l1, 1, vec![6]), (l2, 1, vec![7])];
    assert_eq!(runs_of(&block), same_end);

    // Numbered backwards, the same stretches come in the other order.
    let mut plot = two_rows();
    plot.vines.iter_mut().enumerate().for_each(|(i, v)| v.planted_seq = Some(100 - i as u32));
    let numbered = [(l2, 1, vec![7]), (l1, 1, vec![6]), (l1, 1, vec![4]), (l2, 0, vec![3, 2]), (l1, 0, vec![0])];
    assert_eq!(runs_of(&plot.block()), numbered);
}

#[test]
fn runs_end_with_the_row_where_the_walk_is_unknown() {
    let mut plot = Plot::row(0, 2, "L1");
    plot.add_row(1, 2, "L1");
    plot.walk(autumn(), &[0, 1, 2, 3].map(|v| (v, State::Alive)));
    let mut block = plot.block();
    assert_eq!(runs_of(&block).len(), 1);
    block.layout.planted = PlantingOrder::Unknown;
    assert_eq!(runs_of(&block).len(), 2);
    assert!(tally(&block, None).unwrap().field.unwrap().runs_within_rows);
}

#[test]
fn places_hold_their_metres_and_posts_hold_nothing() {
    let mut plot = Plot::row(0, 3, "L1");
    plot.add_row(1, 3, "L1");
    plot.walk(autumn(), &[0, 1, 2, 3, 4, 5].map(|v| (v, State::Alive)));
    let mut block = plot.block();
    block.layout.rows[1] =
        RowLayout { offset_m: 3.3, gap_before_m: Some(6.0), no_vine: vec![2], places: 4, ..row_of(1, 4) };
    let field = tally(&block, None).unwrap().field.unwrap();
    assert_eq!(field.places.len(), 3 + 3);
    assert_eq!(field.places[5].standing, Standing::Empty);
    let (x, y) = field.points[5].x_y_m.unwrap();
    assert_eq!(field.lines[1], Line { offset: 3, gap_before: true });
    assert_eq!(field.sites()[5], Site { line: 1, step: 3 });
    assert!((x - 8.4).abs() < 1e-12 && (y - 5.5).abs() < 1e-12, "{x} {y}");
}

#[test]
fn counted_rows_become_cells() {
    let line = |row, planted, failed, batch_line| CountLine {
        row,
        planted,
        seen: planted,
        failed,
        missing: Some(1),
        line: batch_line,
        ..CountLine::default()
    };
    let mut lines = vec![line(0, 20, 3, 2), line(0, 25, 1, 3), line(1, 45, 9, 4)];
    let layout = Layout { rows: vec![row_of(0, 45), row_of(1, 45)], ..Layout::default() };
    let factors = vec![batch_factor(&["L2", "L1", "L2"])];
    let counts = |lines: &[CountLine]| {
        block(layout.clone(), Plants::Counts(CountSheet { lines: lines.to_vec(), factors: factors.clone() }))
    };
    let undated = tally(&counts(&lines), None).unwrap();
    assert_eq!((undated.walk, undated.field.is_none(), undated.outcomes.len()), (None, true, 0));
    assert_eq!(undated.factors.iter().map(|f| f.name.as_str()).collect::<Vec<_>>(), ["batch", "row"]);
    assert_eq!((undated.cells.len(), undated.total.planted, undated.total.failed), (3, 90, 13));
    assert_eq!(of_batch(&undated, "L2").failed, 12);

    // Dated lines are walks of their own; those of one walk count.
    lines[0].surveyed_on = Some(autumn());
    lines[1].surveyed_on = Some(date(2024, 9, 22));
    lines[2].surveyed_on = Some(next_autumn());
    let block = counts(&lines);
    assert_eq!(tally(&block, None).unwrap().total.failed, 9);
    let first = tally(&block, Some(date(2024, 9, 21))).unwrap();
    assert_eq!((first.total.failed, first.walk), (4, Some((autumn(), date(2024, 9, 22)))));
    assert!(tally(&block, Some(planting())).is_err());
}

#[test]
fn unlabelled_and_doubtful_batches_are_no_candidates() {
    let mut plot = Plot::default();
    for (i, batch) in ["L1", "L1|L3", "", "L3"].into_iter().enumerate() {
        plot.plant(place(0, i as u32 + 1), batch, planting());
    }
    plot.walk(autumn(), &[0, 1, 2, 3].map(|v| (v, State::Alive)));
    let tally = tally(&plot.block(), None).unwrap();
    let batch = tally.factors.iter().find(|f| f.name == "batch").unwrap();
    assert_eq!(
        (&batch.levels[..], &batch.definite[..]),
        (&["L1", "L1|L3", "L3"].map(String::from)[..], &[true, false, true][..])
    );
    assert_eq!(tally.cells.iter().filter(|c| c.codes[0] == UNKNOWN).count(), 1);
}

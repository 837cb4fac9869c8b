//! Seconds that the tests of patterns take.

use fullstand::base::Seed;
use fullstand::lattice::scan::Search;
use fullstand::lattice::{Bits, Board, DealtJoins, Graph, Neighbours, Scan, ScanConfig, Site};
use fullstand::stats::deck::{Dealer, Dealing, deals};
use fullstand::stats::permute::Strata;
use std::time::Instant;

/// A block of rows whose failures come to a tenth.
struct Block {
    sites: Vec<Site>,
    failed: Vec<u32>,
}

impl Block {
    fn of(rows: u32, places: i32) -> Self {
        let sites: Vec<Site> = (0..rows).flat_map(|line| (1..=places).map(move |step| Site { line, step })).collect();
        let failed = (0..sites.len() as u64).map(|i| u32::from(i * 7_919 % 10 == 0)).collect();
        Block { sites, failed }
    }

    /// Nothing held; rows; batches of 25 places; both.
    fn strata(&self) -> [(&'static str, Strata); 4] {
        let batch = |s: &Site| (s.step / 25 + s.line as i32) % 4;
        [
            ("nothing", Strata::one(self.sites.len())),
            ("row", Strata::by(self.sites.iter().map(|s| s.line))),
            ("batch", Strata::by(self.sites.iter().map(batch))),
            ("row and batch", Strata::by(self.sites.iter().map(|s| (s.line, batch(s))))),
        ]
    }
}

struct Joins<'a>(DealtJoins<'a>);

impl Dealing<4> for Joins<'_> {
    type Table = Bits;

    fn table(&self) -> Bits {
        self.0.bits()
    }

    fn deal(&self, table: &mut Bits, dealer: &mut Dealer) -> [f64; 4] {
        let sums = self.0.deal(table, dealer);
        [sums.joins.along.into(), sums.joins.across.into(), sums.joins.diagonal.into(), sums.weight]
    }

    fn statistics(&self, _: &[u32]) -> [f64; 4] {
        [0.0; 4]
    }

    fn work(&self) -> usize {
        self.0.work()
    }
}

/// 9,999 permutations of all joins of 5,000 vines, and what is held fixed: the median of five.
pub fn print_joins() {
    let block = Block::of(100, 50);
    let board = Board::new(&block.sites, &[]);
    let degrees = Graph::new(&block.sites, &[], Neighbours::Rook).degrees();
    for (held, strata) in block.strata() {
        let dealing = Joins(DealtJoins::new(&board, &degrees, &block.failed, &strata));
        let mut runs: Vec<(f64, f64)> = (0..5)
            .map(|run| {
                let start = Instant::now();
                let values = deals(&dealing, 0..9_999, "speed", Seed::new(run));
                let seconds = start.elapsed().as_secs_f64();
                (seconds, values.iter().map(|v| v[0] + v[1]).sum::<f64>() / values.len() as f64)
            })
            .collect();
        runs.sort_by(|a, b| a.0.total_cmp(&b.0));
        println!("  {held:<14} {:.1} ms, mean {:.2}", 1e3 * runs[2].0, runs[2].1);
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/joins/numpy_shuffle.py");
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".into());
    let said = std::process::Command::new(python).arg(script).output().ok().filter(|out| out.status.success());
    let said = said.map(|out| String::from_utf8_lossy(&out.stdout).trim().to_string());
    println!("  {:<14} {}", "numpy", said.unwrap_or_else(|| "not here (PYTHON=…)".into()));
}

/// 999 permutations of the scan of 5,000 vines, 199 of one of a million.
pub fn print_scans() {
    for (rows, places, draws) in [(24, 45, 999), (100, 50, 999), (1_000, 1_000, 199)] {
        let block = Block::of(rows, places);
        let metres: Vec<(f64, f64)> =
            block.sites.iter().map(|s| (2.4 * f64::from(s.line), 1.1 * f64::from(s.step))).collect();
        let start = Instant::now();
        let scan = Scan::new(&block.sites, &[], Some(&metres), &ScanConfig::default());
        println!("  {rows} x {places}: windows {:.3} s, {:?}", start.elapsed().as_secs_f64(), scan.resolution());
        let all: Vec<u32> = (0..block.sites.len() as u32).collect();
        for (held, strata) in block.strata() {
            let start = Instant::now();
            let search = Search::new(&scan, &all, &block.failed, &strata);
            let ready = start.elapsed().as_secs_f64();
            let values = deals(&search, 0..draws, "speed", Seed::new(1));
            let mean = values.iter().map(|v| v[0]).sum::<f64>() / values.len() as f64;
            let seconds = start.elapsed().as_secs_f64();
            println!("    {held:<14} ready {ready:.3} s, with {draws} permutations {seconds:.3} s, mean {mean:.2}");
        }
    }
}

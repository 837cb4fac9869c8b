use fullstand::base::Seed;
use fullstand::rates::{self, rates};
use fullstand::simulate::*;
use fullstand::tally::tally;
use fullstand::stats::projection::efficiencies;
fn main() {
    let t = std::time::Instant::now();
    let s = simulate(&Scenario { rows: 2000, places_per_row: 500, ..Scenario::default() }, Seed::new(1));
    println!("simulate {:?}", t.elapsed());
    let t = std::time::Instant::now();
    let ta = tally(&s.block, None).unwrap();
    println!("tally {:?} cells {}", t.elapsed(), ta.cells.len());
    let t = std::time::Instant::now();
    let cells: Vec<Vec<u32>> = (0..ta.factors.len()).map(|f| ta.cells.iter().map(|c| c.codes[f]).collect()).collect();
    let w: Vec<f64> = ta.cells.iter().map(|c| c.counts.seen as f64).collect();
    for (f, factor) in ta.factors.iter().enumerate() {
        let others: Vec<Vec<u32>> = (0..cells.len()).filter(|o| *o != f).map(|o| cells[o].clone()).collect();
        efficiencies(&cells[f], &others, &w);
        println!("separable {} {:?}", factor.name, t.elapsed());
    }
    let t = std::time::Instant::now();
    let r = rates(&ta, 0, &rates::Config { simulations: 1, ..Default::default() }, Seed::new(1));
    println!("rates 1 sim {:?}", t.elapsed());
    let t = std::time::Instant::now();
    let _ = rates(&ta, 0, &rates::Config::default(), Seed::new(1));
    println!("rates {:?}", t.elapsed());
    let row = r.factors.iter().find(|f| f.factor == "row").unwrap();
    for i in [0, 7, 500, 1999] { let l = &row.levels[i]; println!("{:?} {:?}", l.pooled.value(), l.probability_best.value()); }
}

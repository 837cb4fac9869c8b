use fullstand::base::Seed;
use fullstand::rates::{self, Config};
use std::time::Instant;
fn main() {
    let folder = std::env::args().nth(1).unwrap();
    let at = Instant::now();
    let reading = fullstand::intake::read(std::path::Path::new(&folder)).unwrap();
    println!("read {:?}", at.elapsed());
    let tally = fullstand::tally::tally(&reading.block, None).unwrap();
    let config = Config::new(0.9, &reading.block.assumptions);
    let at = Instant::now();
    let draws = rates::stand_draws(&tally, &config, Seed::new(1)).unwrap();
    println!("draws {:?} {} cells {} effective {:.0}", at.elapsed(), draws.count, tally.cells.len(), draws.effective);
    let at = Instant::now();
    let _ = rates::contrasts(&tally, 0.9);
    println!("contrasts {:?}", at.elapsed());
    for f in &tally.factors {
        let at = Instant::now();
        let _ = rates::factor_tests(&tally, &f.name, &config, Seed::new(1));
        println!("tests {} {:?}", f.name, at.elapsed());
    }
    let at = Instant::now();
    let _ = rates::trends(&tally, &config, Seed::new(1));
    println!("trends {:?}", at.elapsed());
    let at = Instant::now();
    let _ = rates::error_stratum(&tally, 0);
    println!("grid {:?}", at.elapsed());
    let at = Instant::now();
    let all = rates::rates(&tally, 0, &config, Seed::new(1));
    println!("rates {:?} {}", at.elapsed(), all.vines);
}

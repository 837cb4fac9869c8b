use fullstand::base::Seed;
use fullstand::lattice::*;
use fullstand::stats::deck::*;
use fullstand::stats::permute::*;
use std::time::Instant;
struct D<'a>(DealtJoins<'a>);
impl Dealing<4> for D<'_> {
    type Table = Bits;
    fn table(&self) -> Bits {
        self.0.bits()
    }
    fn deal(&self, t: &mut Bits, r: &mut Dealer) -> [f64; 4] {
        let s = self.0.deal(t, r);
        [s.joins.along as f64, s.joins.across as f64, s.joins.diagonal as f64, s.weight]
    }
    fn statistics(&self, _: &[u32]) -> [f64; 4] {
        [0.0; 4]
    }
    fn work(&self) -> usize {
        self.0.work()
    }
}
fn main() {
    let sites: Vec<Site> = (0..100u32).flat_map(|line| (1..=50).map(move |step| Site { line, step })).collect();
    let marks: Vec<u32> = (0..5000u32).map(|i| u32::from(i * 7919 % 10 == 0)).collect();
    let board = Board::new(&sites, &[]);
    let deg = Graph::new(&sites, &[], Neighbours::Rook).degrees();
    for (n, st) in [
        ("all", Strata::one(5000)),
        ("row", Strata::by(sites.iter().map(|s| s.line))),
        ("both", Strata::by(sites.iter().map(|s| (s.line, s.step / 25)))),
    ] {
        let d = D(DealtJoins::new(&board, &deg, &marks, &st));
        for _ in 0..5 {
            {
                let t = Instant::now();
                let mut b = d.0.bits();
                let mut r = dealer(Seed::new(1), "y", 0);
                let mut x = 0.0;
                for _ in 0..9999 {
                    x += d.0.deal(&mut b, &mut r).weight;
                }
                println!("one thread {:?} {x}", t.elapsed());
                let m = board.marks(|i| marks[i] == 1);
                let t = Instant::now();
                let mut x = 0;
                for _ in 0..9999 {
                    x += board.joins(std::hint::black_box(&m)).along;
                }
                println!("joins only {:?} {x}", t.elapsed());
            }
            let t = Instant::now();
            let v = deals(&d, 9999, "x", Seed::new(1));
            println!("{n} {:?} {}", t.elapsed(), v.iter().map(|v| v[0]).sum::<f64>() / 9999.0);
        }
    }
}

//! The scan for the strongest patch against brute force in Python (numpy 2.4) and against every window, by hand.

use crate::oracle::{beside_the_clone, close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::base::seed::below;
use fullstand::lattice::scan::{Search, Share, bernoulli, log_likelihood_ratio};
use fullstand::lattice::{Line, Scan, ScanConfig, Shapes, Site};
use fullstand::stats::deck::deals;
use fullstand::stats::permute::Strata;
use serde_json::Value;

/// A field with marks, one rate everywhere.
struct Field {
    sites: Vec<Site>,
    marks: Vec<u32>,
}

impl Field {
    fn of(data: &Value) -> Self {
        let (row, pos) = (counts(&data["row"]), counts(&data["pos"]));
        let site = |(&row, &pos): (&u64, &u64)| Site { line: row as u32, step: pos as i32 };
        let marks = counts(&data["y"]).into_iter().map(|y| y as u32).collect();
        Field { sites: row.iter().zip(&pos).map(site).collect(), marks }
    }

    fn metres(&self, across: f64) -> Vec<(f64, f64)> {
        self.sites.iter().map(|s| (across * f64::from(s.line), f64::from(s.step))).collect()
    }

    fn scan(&self, across: f64, shapes: Shapes) -> Scan {
        let config = ScanConfig { shapes, ..ScanConfig::default() };
        Scan::new(&self.sites, &[], Some(&self.metres(across)), &config)
    }

    fn search<'a>(&self, scan: &'a Scan) -> Search<'a> {
        let all: Vec<u32> = (0..self.sites.len() as u32).collect();
        Search::new(scan, &all, &self.marks, &Strata::one(all.len()))
    }
}

/// The spot checks of the ratio.
#[test]
fn ratios_of_single_windows() {
    let oracle = read("scan_llr_spot");
    let cases = oracle["inputs"]["cases"].as_array().unwrap();
    for (case, want) in cases.iter().zip(numbers(&oracle["expected"])) {
        let [c, n, all_c, all_n] = ["c", "n", "C", "N"].map(|key| case[key].as_u64().unwrap());
        close(&case.to_string(), bernoulli(c, n, all_c, all_n), want, 0.0, 1e-10);
    }
}

/// The strongest window, and its null by dealing the marks anew, against brute force.
fn peppers(field: &Field, scan: &Scan, want: &Value, inside: impl Fn(&Value, &Site) -> bool) {
    let search = field.search(scan);
    let found = search.strongest().unwrap();
    close("ratio", found.log_likelihood_ratio, want["max_llr"].as_f64().unwrap(), 0.0, 1e-6);
    let tied = want["top"].as_array().unwrap().iter().filter(|w| w["llr"] == want["max_llr"]);
    let is_found = |w: &Value| {
        let members = (0..field.sites.len() as u32).filter(|&site| inside(w, &field.sites[site as usize]));
        members.collect::<Vec<_>>() == found.sites && w["cases"].as_u64() == Some(found.marked)
    };
    assert!(tied.clone().any(is_found), "{found:?}");
    let draws = 9_999;
    let mut null: Vec<f64> = deals(&search, 0..draws, "peppers", Seed::new(1)).into_iter().map(|[max]| max).collect();
    null.sort_by(f64::total_cmp);
    for (key, quantile) in want["null_quantiles"].as_object().unwrap() {
        // The file's are those of 999 or fewer draws, and grant 0.5; its 1 % stands on its largest ten: twice that.
        let tolerance = if key == "0.99" { 1.0 } else { 0.5 };
        let at = (key.parse::<f64>().unwrap() * draws as f64) as usize;
        close(&format!("null {key}"), null[at], quantile.as_f64().unwrap(), 0.0, tolerance);
    }
    let as_large = null.iter().filter(|max| **max >= found.log_likelihood_ratio - 1e-9).count();
    close("p", (as_large + 1) as f64 / (draws + 1) as f64, want["p_mc"].as_f64().unwrap(), 0.0, 0.03);
}

fn in_circle(across: f64) -> impl Fn(&Value, &Site) -> bool {
    move |w, site| {
        let apart = |key: &str, at: f64| w[key].as_f64().unwrap() - at;
        let distance = (across * apart("centre_row", site.line.into())).hypot(apart("centre_pos", site.step.into()));
        distance <= w["radius"].as_f64().unwrap() + 1e-6
    }
}

fn in_rectangle(w: &Value, site: &Site) -> bool {
    let within = |at: f64, from: &str, to: &str| w[from].as_f64().unwrap() <= at && at <= w[to].as_f64().unwrap();
    within(site.line.into(), "row1", "row2") && within(site.step.into(), "pos1", "pos2")
}

#[test]
fn the_strongest_circle_in_a_field_of_peppers() {
    let Some(oracle) = beside_the_clone("scan_pepper_f1_full") else { return };
    let field = Field::of(&oracle["inputs"]["data"]);
    let scan = field.scan(1.0, Shapes::Circles);
    assert!(matches!(scan.resolution().circles, Share::Every(_)));
    peppers(&field, &scan, &oracle["expected"]["circle_iso"], in_circle(1.0));
    // The file's rectangles go up to 8 by 8 only: a scan of all of them finds no less.
    let rectangles = field.scan(1.0, Shapes::Rectangles);
    let all = field.search(&rectangles).strongest().unwrap().log_likelihood_ratio;
    assert!(all >= oracle["expected"]["rect_max8x8"]["max_llr"].as_f64().unwrap());
}

#[test]
fn the_strongest_window_in_a_part_of_the_field() {
    let Some(oracle) = beside_the_clone("scan_pepper_f1_sub") else { return };
    let field = Field::of(&oracle["inputs"]["data"]);
    let want = &oracle["expected"];
    peppers(&field, &field.scan(1.0, Shapes::Circles), &want["circle_iso"], in_circle(1.0));
    peppers(&field, &field.scan(2.5, Shapes::Circles), &want["circle_aniso"], in_circle(2.5));
    peppers(&field, &field.scan(1.0, Shapes::Rectangles), &want["rect_full"], in_rectangle);
}

/// Every rectangle and every circle, one by one, of small ragged grids with strata.
#[test]
fn the_search_finds_what_looking_at_every_window_finds() {
    let mut rng = Seed::new(1).stream("scan", 0);
    for round in 0..60 {
        let (lines, steps) = (2 + below(&mut rng, 5) as u32, 3 + below(&mut rng, 7) as i32);
        let all = (0..lines).flat_map(|line| (1..=steps).map(move |step| Site { line, step }));
        let sites: Vec<Site> = all.filter(|_| below(&mut rng, 6) > 0).collect();
        let offsets: Vec<Line> =
            (0..lines).map(|_| Line { offset: below(&mut rng, 3) as i32, gap_before: false }).collect();
        let marks: Vec<u32> = sites.iter().map(|_| u32::from(below(&mut rng, 3) == 0)).collect();
        let strata = if round % 2 == 0 { Strata::one(sites.len()) } else { Strata::by(sites.iter().map(|s| s.line)) };
        let step = |s: &Site| s.step + offsets[s.line as usize].offset;
        let metres: Vec<(f64, f64)> = sites.iter().map(|s| (2.5 * f64::from(s.line), f64::from(step(s)))).collect();
        let scan = Scan::new(&sites, &offsets, Some(&metres), &ScanConfig::default());
        let every: Vec<u32> = (0..sites.len() as u32).collect();
        let found = Search::new(&scan, &every, &marks, &strata).strongest();

        let mut best = 0.0f64;
        let mut look = |inside: &dyn Fn(usize) -> bool| best = best.max(ratio(&marks, &strata, inside));
        for (a, b) in (0..lines).flat_map(|a| (a..lines).map(move |b| (a, b))) {
            for (c, d) in (0..steps + 3).flat_map(|c| (c..steps + 3).map(move |d| (c, d))) {
                look(&|i| (a..=b).contains(&sites[i].line) && (c..=d).contains(&step(&sites[i])));
            }
        }
        let distance = |i: usize, j: usize| (metres[i].0 - metres[j].0).hypot(metres[i].1 - metres[j].1);
        for (centre, edge) in (0..sites.len()).flat_map(|c| (0..sites.len()).map(move |e| (c, e))) {
            look(&|i| distance(centre, i) <= distance(centre, edge) + 1e-9);
        }
        close(&format!("{round}"), found.as_ref().map_or(0.0, |f| f.log_likelihood_ratio), best, 0.0, 1e-9);
        if let Some(found) = found {
            let inside = |i: usize| found.sites.contains(&(i as u32));
            close("its own sites", ratio(&marks, &strata, &inside), best, 0.0, 1e-9);
        }
    }
}

/// The ratio of a window, from its sites; 0 where it holds more than half of them.
fn ratio(marks: &[u32], strata: &Strata, inside: &dyn Fn(usize) -> bool) -> f64 {
    let mut expected = 0.0;
    for group in strata.groups() {
        let rate = group.iter().filter(|&&i| marks[i as usize] == 1).count() as f64 / group.len() as f64;
        expected += rate * group.iter().filter(|&&i| inside(i as usize)).count() as f64;
    }
    let sites = (0..marks.len()).filter(|&i| inside(i)).count();
    let cases = (0..marks.len()).filter(|&i| inside(i) && marks[i] == 1).count() as f64;
    let all = marks.iter().sum::<u32>();
    let small = 2 * sites <= marks.len();
    if small { log_likelihood_ratio(cases, sites as f64, expected, all.into(), marks.len() as f64) } else { 0.0 }
}

/// On large grids windows are a ladder, or cells of several sites: a patch is found all but its rim.
#[test]
fn a_patch_is_found_on_grids_too_large_for_every_window() {
    for (lines, steps, cell) in [(60, 90, (1, 1)), (300, 300, (2, 6))] {
        let sites: Vec<Site> = (0..lines).flat_map(|line| (0..steps).map(move |step| Site { line, step })).collect();
        let metres: Vec<(f64, f64)> = sites.iter().map(|s| (2.4 * f64::from(s.line), f64::from(s.step))).collect();
        let mut rng = Seed::new(3).stream("patch", lines.into());
        let (middle, radius) = ((0.3 * 2.4 * f64::from(lines), 0.6 * f64::from(steps)), 0.15 * f64::from(steps));
        let inside = |i: usize| (metres[i].0 - middle.0).hypot(metres[i].1 - middle.1) <= radius;
        let marks: Vec<u32> =
            (0..sites.len()).map(|i| u32::from(below(&mut rng, 100) < if inside(i) { 40 } else { 10 })).collect();
        let scan = Scan::new(&sites, &[], Some(&metres), &ScanConfig::default());
        let resolution = scan.resolution();
        assert_eq!((resolution.lines, resolution.steps), cell);
        assert!(matches!((resolution.rectangles, resolution.circles), (Share::Ladder(_), Share::Ladder(_))));
        let every: Vec<u32> = (0..sites.len() as u32).collect();
        let found = Search::new(&scan, &every, &marks, &Strata::one(every.len())).strongest().unwrap();
        let both = found.sites.iter().filter(|&&i| inside(i as usize)).count() as f64;
        let patch = (0..sites.len()).filter(|&i| inside(i)).count() as f64;
        let either = patch + found.sites.len() as f64 - both;
        assert!(both / either > 0.75, "{lines}: {} of {patch}, {:?}", found.sites.len(), found.shape);
    }
}

#[test]
fn nothing_to_look_at_is_no_window() {
    let none = Scan::new(&[], &[], None, &ScanConfig::default());
    assert_eq!(Search::new(&none, &[], &[], &Strata::one(0)).strongest(), None);
    let sites = [Site { line: u32::MAX, step: i32::MAX }, Site { line: 0, step: i32::MIN }];
    let two = Scan::new(&sites, &[], Some(&[(f64::MAX, 0.0), (0.0, 0.0)]), &ScanConfig::default());
    assert_eq!(Search::new(&two, &[0, 1], &[1, 1], &Strata::one(2)).strongest(), None);
    let found = Search::new(&two, &[0, 1], &[1, 0], &Strata::one(2)).strongest().unwrap();
    assert_eq!(found.sites, [0]);
}

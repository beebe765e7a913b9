"""Writes reference.json: random inputs, and what scipy, statsmodels and scikit-posthocs make of them.

    python3 -m pip install scipy statsmodels scikit-posthocs
    python3 core/tests/reference/make.py

Made with numpy 2.4.6, scipy 1.17.1, statsmodels 0.15.0 and scikit-posthocs 0.17.1. How long charts run
is worked out in numpy by another way than that of core: as an integral equation.
"""

import json
import pathlib

import numpy as np
from scikit_posthocs import outliers_gesd
from scipy.stats import median_abs_deviation, norm, t
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint



def cusum_run_length(k, h, shift):
    """One side (E. S. Page 1954): L(z) = 1 + L(0) P(x ≤ k − z) + ∫ L(y) φ(y + k − z) dy, by
    Gauss and Legendre with nothing as a node of its own."""
    nodes, weights = np.polynomial.legendre.leggauss(60)
    y, w = np.append(0.0, h * (nodes + 1) / 2), np.append(0.0, h * weights / 2)
    kernel = w * norm.pdf(y[None, :] + k - y[:, None] - shift)
    kernel[:, 0] = norm.cdf(k - y - shift)
    return float(np.linalg.solve(np.eye(len(y)) - kernel, np.ones(len(y)))[0])


def ewma_run_length(weight, width, shift):
    """L(z) = 1 + ∫ L(y) φ((y − (1 − λ) z) ÷ λ) ÷ λ dy between the limits."""
    nodes, weights = np.polynomial.legendre.leggauss(120)
    limit = width * np.sqrt(weight / (2 - weight))
    y, w = limit * nodes, limit * weights
    z = np.append(0.0, y)
    moved = (y[None, :] - (1 - weight) * z[:, None]) / weight
    kernel = w * norm.pdf(moved - shift) / weight
    inside = np.linalg.solve(np.eye(len(y)) - kernel[1:], np.ones(len(y)))
    return float(1 + kernel[0] @ inside)


rng = np.random.default_rng(20261125)
cases = {"robust": [], "benjamini_hochberg": [], "wilson": [], "pooled": []}
for _ in range(25):
    values = rng.standard_t(3, rng.integers(1, 40)) * rng.uniform(0.1, 50)
    centre, spread = float(np.median(values)), float(median_abs_deviation(values, scale="normal"))
    cases["robust"].append({"values": values.tolist(), "centre": centre, "spread": spread})

    p = norm.sf(rng.normal(rng.uniform(0, 2), 1, rng.integers(1, 60)))
    adjusted = multipletests(p, method="fdr_bh")[1]
    cases["benjamini_hochberg"].append({"p": p.tolist(), "adjusted": adjusted.tolist()})

    of = int(rng.integers(1, 2000))
    hits = int(rng.integers(0, of + 1))
    low, high = proportion_confint(hits, of, method="wilson")
    cases["wilson"].append({"hits": hits, "of": of, "low": float(low), "high": float(high)})

    many = int(rng.integers(2, 30))
    variance = rng.uniform(0.01, 4.0, many)
    value = rng.normal(3, rng.uniform(0, 2), many) + rng.normal(0, np.sqrt(variance))
    found = combine_effects(value, variance, method_re="chi2")
    cases["pooled"].append(
        {
            "value": value.tolist(),
            "variance": variance.tolist(),
            "between": float(max(found.tau2, 0.0)),
            # It lets tau2 fall below nothing, and the mean with it.
            "mean": float(found.mean_effect_re) if found.tau2 > 0 else 0.0,
            "error": float(found.sd_eff_w_re) if found.tau2 > 0 else 0.0,
        }
    )
cases |= {"student": [], "esd": [], "cusum": [], "ewma": []}
for _ in range(25):
    degrees, level = int(10 ** rng.uniform(0, 6)), float(rng.uniform(0.05, 0.9999))
    cases["student"].append(
        {"degrees": degrees, "level": level, "t": float(t.isf((1 - level) / 2, degrees))}
    )

    values = np.round(rng.standard_t(3, rng.integers(15, 60)) * rng.uniform(0.1, 50), 3)
    most = int(rng.integers(1, 8))
    out = np.flatnonzero(outliers_gesd(values, outliers=most, hypo=True, alpha=0.05))
    cases["esd"].append({"values": values.tolist(), "most": most, "out": out.tolist()})

    k, h, shift = rng.uniform(0.25, 1), rng.uniform(2, 5), rng.uniform(0, 2)
    up, down = cusum_run_length(k, h, shift), cusum_run_length(k, h, -shift)
    length = 1 / (1 / up + 1 / down)
    cases["cusum"].append({"k": float(k), "h": float(h), "shift": float(shift), "length": length})

    weight, width, shift = rng.uniform(0.1, 0.9), rng.uniform(2, 3), rng.uniform(0, 2)
    length = ewma_run_length(weight, width, shift)
    cases["ewma"].append(
        {"weight": float(weight), "width": float(width), "shift": float(shift), "length": length}
    )
path = pathlib.Path(__file__).with_name("reference.json")
path.write_text(json.dumps(cases) + "\n")

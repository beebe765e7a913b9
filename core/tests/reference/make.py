"""Writes reference.json: random inputs, and what scipy and statsmodels make of them.

    python3 -m pip install scipy statsmodels
    python3 core/tests/reference/make.py

Made with numpy 2.4.6, scipy 1.17.1 and statsmodels 0.15.0.
"""

import json
import pathlib

import numpy as np
from scipy.stats import median_abs_deviation, t
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.proportion import proportion_confint

rng = np.random.default_rng(20261125)
cases = {"robust": [], "wilson": [], "pooled": [], "student": []}
for _ in range(25):
    values = rng.standard_t(3, rng.integers(1, 40)) * rng.uniform(0.1, 50)
    centre, spread = float(np.median(values)), float(median_abs_deviation(values, scale="normal"))
    cases["robust"].append({"values": values.tolist(), "centre": centre, "spread": spread})

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

    degrees, level = int(10 ** rng.uniform(0, 6)), float(rng.uniform(0.05, 0.9999))
    cases["student"].append(
        {"degrees": degrees, "level": level, "t": float(t.isf((1 - level) / 2, degrees))}
    )
path = pathlib.Path(__file__).with_name("reference.json")
path.write_text(json.dumps(cases) + "\n")

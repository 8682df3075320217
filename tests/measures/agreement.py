"""Agreement of scorers: statsmodels, krippendorff."""

import warnings

import krippendorff as library
import numpy as np
from statsmodels.stats.inter_rater import cohens_kappa

EXACT = (1e-9, "absolute")


def table(chance):
    classes = chance.randint(2, 5)
    full = [[chance.choice((0, chance.randint(0, 15))) + (i == j) * chance.randint(0, 20) for j in range(classes)] for i in range(classes)]
    return full


def weighted_kappa(chance, nth):
    of = table(chance)
    weights = chance.choice(("none", "linear", "quadratic"))
    inputs = {"table": of, "weights": weights, "level": 0.95}
    rows, columns = np.sum(of, axis=1), np.sum(of, axis=0)
    if sum(rows) == 0 or (max(rows) == sum(rows) and max(columns) == sum(rows) and np.argmax(rows) == np.argmax(columns)):
        return inputs, {"error": "one class, or nothing"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = cohens_kappa(np.array(of), wt=None if weights == "none" else weights)
    if not np.isfinite([found.kappa, found.std_kappa, found.std_kappa0]).all():
        return None
    return inputs, {"kappa": found.kappa, "se": found.std_kappa, "se0": found.std_kappa0}


def alpha(chance, nth):
    people, units = chance.randint(2, 4), chance.randint(3, 15)
    rows = [[chance.choice((None, chance.randint(1, 4), chance.randint(1, 4))) for _ in range(units)] for _ in range(people)]
    metric = chance.choice(("nominal", "ordinal", "interval", "ratio"))
    inputs = {"raters_by_units": rows, "metric": metric}
    data = np.array([[np.nan if value is None else float(value) for value in row] for row in rows])
    try:
        found = library.alpha(reliability_data=data, level_of_measurement=metric)
    except ValueError:
        return inputs, {"alpha": None}
    return inputs, {"alpha": found if np.isfinite(found) else None}


METHODS = (
    ("agreement.weighted_kappa", 2500, weighted_kappa, "statsmodels cohens_kappa", (1e-7, "absolute")),
    ("agreement.krippendorff_alpha", 1500, alpha, "krippendorff", EXACT),
)

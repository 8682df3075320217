"""Tables of two by two, strata, standards, many comparisons, many herds: scipy, statsmodels, numpy."""

import math

import numpy as np
from scipy import stats
from scipy.stats.contingency import odds_ratio
from statsmodels.stats.contingency_tables import StratifiedTable, Table2x2
from statsmodels.stats.multitest import multipletests

EXACT = (1e-9, "absolute")


def cells(chance, most=40, least=0):
    return [chance.choice((least, chance.randint(least, most), chance.randint(least, most))) for _ in range(4)]


def fisher(chance, nth):
    a, b, c, d = cells(chance, 25)
    if a + b + c + d == 0:
        return None
    table = [[a, b], [c, d]]
    expected = {
        "p_two_sided": stats.fisher_exact(table).pvalue,
        "p_greater": stats.fisher_exact(table, alternative="greater").pvalue,
    }
    return {"table": table}, expected


def conditional(chance, nth):
    a, b, c, d = cells(chance, 20, least=1)
    table = [[a, b], [c, d]]
    found = odds_ratio(table, kind="conditional")
    limits = found.confidence_interval(0.95)
    return {"table": table}, {"odds_ratio_conditional": found.statistic, "lower": limits.low, "upper": limits.high}


def association(chance, nth):
    a, b, c, d = cells(chance, 60, least=1)
    of = Table2x2(np.array([[a, b], [c, d]]), shift_zeros=False)
    risk, odds = of.riskratio_confint(), of.oddsratio_confint()
    chi2 = stats.chi2_contingency([[a, b], [c, d]], correction=False)
    expected = {
        "risk_ratio": of.riskratio,
        "rr_katz_lower": risk[0],
        "rr_katz_upper": risk[1],
        "odds_ratio": of.oddsratio,
        "or_woolf_lower": odds[0],
        "or_woolf_upper": odds[1],
        "chi2": chi2.statistic,
        "chi2_p": chi2.pvalue,
    }
    return {"table": [[a, b], [c, d]]}, expected


def homogeneity(chance, nth):
    table = [[chance.randint(0, 30), chance.randint(0, 30)] for _ in range(chance.randint(2, 6))]
    columns = np.sum(table, axis=0)
    if min(columns) == 0 or any(sum(row) == 0 for row in table):
        return {"table": table}, {"error": "an empty margin"}
    found = stats.chi2_contingency(table, correction=False)
    return {"table": table}, {"chi2": found.statistic, "df": found.dof, "p": found.pvalue}


def mantel_haenszel(chance, nth):
    strata = [cells(chance, 30, least=1) for _ in range(chance.randint(1, 5))]
    of = StratifiedTable([np.array([[a, b], [c, d]], dtype=float) for a, b, c, d in strata])
    limits, null = of.oddsratio_pooled_confint(), of.test_null_odds(correction=False)
    inputs = {"strata": [[[a, b], [c, d]] for a, b, c, d in strata]}
    expected = {
        "or_mh": of.oddsratio_pooled,
        "or_lower": limits[0],
        "or_upper": limits[1],
        "rr_mh": of.riskratio_pooled,
        "cmh_chi2": null.statistic,
        "cmh_p": null.pvalue,
    }
    return inputs, expected


def direct(chance, nth):
    """Fay and Feuer 1997, by scipy's gamma."""
    k = chance.randint(1, 6)
    events = [chance.choice((0, chance.randint(0, 50))) for _ in range(k)]
    time, standard = [chance.randint(50, 5000) for _ in range(k)], [chance.randint(1, 100) for _ in range(k)]
    if sum(events) == 0:
        return None
    w = np.array(standard) / sum(standard) / np.array(time)
    rate, variance, most = (w * events).sum(), (w**2 * events).sum(), w.max()
    point = lambda p, y, v: stats.gamma.ppf(p, y * y / v, scale=v / y)
    expected = {
        "rate": rate,
        "lower": point(0.025, rate, variance),
        "upper": point(0.975, rate + most, variance + most**2),
        "crude": sum(events) / sum(time),
    }
    return {"events": events, "time": time, "standard": standard, "level": 0.95}, expected


def adjusted(method):
    def make(chance, nth):
        p = [chance.choice((0.0, 1.0, chance.random(), chance.random() ** 4)) for _ in range(chance.randint(1, 20))]
        found = multipletests(p, alpha=0.05, method=method)
        return {"p": p, "alpha": 0.05}, {"adjusted": list(found[1])}

    return make


def posterior(chance, nth):
    n = chance.randint(1, 500)
    x = chance.choice((0, n, chance.randint(0, n)))
    alpha, beta = chance.uniform(0.3, 50), chance.uniform(0.3, 200)
    of = stats.beta(x + alpha, n - x + beta)
    inputs = {"x": x, "n": n, "alpha": alpha, "beta": beta, "level": 0.95}
    return inputs, {"mean": of.mean(), "sd": of.std(), "lower": of.ppf(0.025), "upper": of.ppf(0.975)}


def moments(chance, nth):
    n = [chance.randint(5, 300) for _ in range(chance.randint(1, 30))]
    x = [chance.randint(0, of) for of in n]
    inputs = {"x": x, "n": n}
    if len(n) == 1:
        return inputs, {"error": "one herd"}
    shares = np.array(x) / np.array(n)
    mean, variance = shares.mean(), shares.var(ddof=1)
    k = mean * (1 - mean) / variance - 1 if variance > 0 else math.inf
    if not math.isfinite(k) or k <= 0:
        return inputs, {"error": "no beta spreads so"}
    return inputs, {"mean": mean, "sd": math.sqrt(variance), "alpha": mean * k, "beta": (1 - mean) * k}


def ratio_estimator(chance, nth):
    m = [chance.randint(1, 12) for _ in range(chance.randint(2, 30))]
    y = [chance.randint(0, of) for of in m]
    k, p = len(m), sum(y) / sum(m)
    off = np.array(y) - p * np.array(m)
    variance = k / (k - 1) * (off @ off) / sum(m) ** 2
    return {"y": y, "m": m}, {"p": p, "var_ratio": variance, "var_binomial": p * (1 - p) / sum(m)}


METHODS = (
    ("table2x2.fisher", 2000, fisher, "scipy fisher_exact", EXACT),
    ("table2x2.fisher", 500, conditional, "scipy odds_ratio, conditional", (1e-6, "relative")),
    ("table2x2.association", 2000, association, "statsmodels Table2x2; scipy chi2_contingency", (1e-7, "absolute")),
    ("table.chi2_homogeneity", 2000, homogeneity, "scipy chi2_contingency", EXACT),
    ("stratified.mantel_haenszel", 1500, mantel_haenszel, "statsmodels StratifiedTable", (1e-7, "absolute")),
    ("standardise.direct", 1500, direct, "Fay and Feuer 1997, scipy gamma", (1e-6, "relative")),
    ("multiple.holm", 1000, adjusted("holm"), "statsmodels multipletests", EXACT),
    ("multiple.benjamini_hochberg", 1000, adjusted("fdr_bh"), "statsmodels multipletests", EXACT),
    ("multiple.bonferroni", 1000, adjusted("bonferroni"), "statsmodels multipletests", EXACT),
    ("shrink.posterior", 2000, posterior, "scipy beta", EXACT),
    ("shrink.beta_binomial_moments", 1500, moments, "moments, numpy", (1e-8, "relative")),
    ("cluster.ratio_estimator", 1500, ratio_estimator, "its formula, numpy", EXACT),
)

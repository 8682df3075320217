"""Shares, differences, sample sizes, rates: scipy, statsmodels, and exact counting."""

import math
from fractions import Fraction

import numpy as np
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar as sm_mcnemar
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

EXACT = (1e-9, "absolute")
LEVELS = (0.95, 0.9, 0.99)
EDGES = ((0, 1), (1, 1), (0, 50), (50, 50), (1, 2), (0, 3), (3, 3))


def part(chance, nth, most=400):
    """x of n; the edges first."""
    if nth < len(EDGES):
        return EDGES[nth]
    n = chance.randint(1, most)
    return chance.choice((0, n, chance.randint(0, n), chance.randint(0, n))), n


def wilson(chance, nth):
    x, n = part(chance, nth)
    level = chance.choice(LEVELS)
    lower, upper = proportion_confint(x, n, alpha=1 - level, method="wilson")
    return {"x": x, "n": n, "level": level}, {"estimate": x / n, "lower": lower, "upper": upper}


def clopper_pearson(chance, nth):
    x, n = part(chance, nth)
    level = chance.choice(LEVELS)
    limits = stats.binomtest(x, n).proportion_ci(level, method="exact")
    return {"x": x, "n": n, "level": level}, {"lower": limits.low, "upper": limits.high}


def jeffreys(chance, nth):
    """The library's own is not set to 0 and 1 at none and all."""
    x, n = part(chance, nth)
    of = stats.beta(x + 0.5, n - x + 0.5)
    lower = 0.0 if x == 0 else of.ppf(0.025)
    upper = 1.0 if x == n else of.ppf(0.975)
    return {"x": x, "n": n, "level": 0.95}, {"lower": lower, "upper": upper}


def hypergeometric(chance, nth):
    """Every number affected that leaves more than 2.5 % on both sides, in whole numbers."""
    x, n = part(chance, nth, 60)
    herd = n + chance.randint(0, 60)

    def chance_of(affected, counts):
        ways = sum(math.comb(affected, k) * math.comb(herd - affected, n - k) for k in counts if 0 <= n - k <= herd - affected)
        return Fraction(ways, math.comb(herd, n))

    least = Fraction(25, 1000)
    possible = [
        affected
        for affected in range(x, herd - (n - x) + 1)
        if chance_of(affected, range(x, min(n, affected) + 1)) > least and chance_of(affected, range(0, x + 1)) > least
    ]
    inputs = {"x": x, "n": n, "N": herd, "level": 0.95}
    return inputs, {"lower_count": possible[0], "upper_count": possible[-1]}


def wilson_of_part(chance, nth):
    x, n = part(chance, nth)
    herd = n + chance.randint(1, 300)
    z = stats.norm.ppf(0.975) * math.sqrt((herd - n) / (herd - 1))
    p = x / n
    # The roots of (p - t)^2 = z^2 t (1 - t) / n.
    roots = np.roots([1 + z * z / n, -(2 * p + z * z / n), p * p])
    inputs = {"x": x, "n": n, "N": herd, "level": 0.95}
    return inputs, {"lower": max(0.0, min(roots.real)), "upper": min(1.0, max(roots.real))}


def newcombe(chance, nth):
    x1, n1 = part(chance, nth, 200)
    x2, n2 = part(chance, len(EDGES) + nth, 200)
    lower, upper = confint_proportions_2indep(x1, n1, x2, n2, method="newcomb", compare="diff", alpha=0.05)
    inputs = {"x1": x1, "n1": n1, "x2": x2, "n2": n2, "level": 0.95}
    return inputs, {"difference": x1 / n1 - x2 / n2, "lower": lower, "upper": upper}


def newcombe_paired(chance, nth):
    """Newcombe 1998, method 10, written anew with matrices."""
    e, f, g, h = (chance.choice((0, chance.randint(0, 40))) for _ in range(4))
    n = e + f + g + h
    if n == 0:
        return None
    ends = [proportion_confint(x, n, method="wilson") for x in (e + f, e + g)]
    shares = [(e + f) / n, (e + g) / n]
    margins = (e + f) * (g + h) * (e + g) * (f + h)
    cross = e * h - f * g
    phi = 0.0 if margins == 0 else (max(cross - n / 2, 0) if cross > 0 else cross) / math.sqrt(margins)
    alike = np.array([[1, -phi], [-phi, 1]])
    down = np.array([shares[0] - ends[0][0], ends[1][1] - shares[1]])
    up = np.array([ends[0][1] - shares[0], shares[1] - ends[1][0]])
    d = shares[0] - shares[1]
    inputs = {"both": e, "first_only": f, "second_only": g, "neither": h, "level": 0.95}
    reach = [math.sqrt(max(0.0, side @ alike @ side)) for side in (down, up)]
    return inputs, {"difference": d, "lower": d - reach[0], "upper": d + reach[1]}


def mcnemar(chance, nth):
    f, g = chance.choice((0, chance.randint(0, 60))), chance.randint(0, 60)
    if f + g == 0:
        return None
    table = [[5, f], [g, 5]]
    exact, plain = sm_mcnemar(table, exact=True), sm_mcnemar(table, exact=False, correction=False)
    even = stats.binom(f + g, 0.5)
    mid = 1 - even.pmf(f) / 2 if f == g else 2 * even.cdf(min(f, g)) - even.pmf(min(f, g))
    expected = {"chi2": plain.statistic, "p_asymptotic": plain.pvalue, "p_exact": exact.pvalue, "p_mid": mid}
    return {"first_only": f, "second_only": g}, expected


def prevalence_size(chance, nth):
    """In whole fractions."""
    herd = chance.choice((None, chance.randint(1, 3000)))
    p, d = Fraction(chance.randint(1, 99), 100), Fraction(chance.choice((2, 3, 5, 10, 15)), 100)
    k = Fraction(196, 100) ** 2 * p * (1 - p)
    n = k / d**2 if herd is None else min(Fraction(herd), herd * k / (d**2 * (herd - 1) + k))
    inputs = {"N": herd, "p": float(p), "d": float(d), "z": 1.96}
    return inputs, {"n_exact": float(n)}


def detection(chance, nth):
    """By trying every size."""
    herd = chance.randint(5, 300)
    affected = chance.randint(1, herd)
    n = next(n for n in range(1, herd + 1) if stats.hypergeom.pmf(0, herd, affected, n) <= 0.05 + 1e-12)
    inputs = {"N": herd, "affected": affected, "confidence": 0.95, "se": 1.0}
    return inputs, {"n_exact_hypergeometric": n}


def rogan_gladen(chance, nth):
    x, n = part(chance, nth)
    se, sp = chance.uniform(0.3, 1), chance.uniform(0.3, 1)
    inputs = {"x": x, "n": n, "se": se, "sp": sp, "interval": "clopper_pearson", "level": 0.95}
    if abs(se + sp - 1) < 1e-6:
        return None
    if se + sp <= 1:
        return inputs, {"error": "looking tells no more than chance"}
    low, high = stats.binomtest(x, n).proportion_ci(0.95, method="exact")
    of = lambda share: (share + sp - 1) / (se + sp - 1)
    return inputs, {"raw": of(x / n), "raw_lower": of(low), "raw_upper": of(high), "reported": min(1, max(0, of(x / n)))}


def poisson(chance, nth):
    count = nth if nth < 30 else chance.randint(0, 3000)
    lower = 0.0 if count == 0 else stats.gamma.ppf(0.025, count)
    return {"count": count, "level": 0.95}, {"lower": lower, "upper": stats.gamma.ppf(0.975, count + 1)}


def rate(chance, nth):
    count, days = chance.choice((0, chance.randint(0, 200))), chance.choice((0.0, chance.uniform(1, 200_000)))
    inputs = {"events": count, "animal_days": days, "level": 0.95}
    if days == 0:
        return inputs, {"error": "no time at risk"}
    lower = 0.0 if count == 0 else stats.gamma.ppf(0.025, count)
    of = lambda events: events / days * 36_525
    return inputs, {"rate": of(count), "lower": of(lower), "upper": of(stats.gamma.ppf(0.975, count + 1))}


def rate_ratio(chance, nth):
    a, b = chance.choice((0, chance.randint(0, 80))), chance.choice((0, chance.randint(0, 80)))
    time1, time0 = chance.uniform(10, 5000), chance.uniform(10, 5000)
    inputs = {"a": a, "b": b, "time1": time1, "time0": time0, "level": 0.95}
    if a + b == 0:
        return inputs, {"error": "no cases"}
    test = stats.binomtest(a, a + b, time1 / (time1 + time0))
    low, high = test.proportion_ci(0.95, method="exact")
    odds = lambda share: math.inf if share == 1 else share / (1 - share) * time0 / time1
    ratio = math.inf if b == 0 else (a / time1) / (b / time0)
    return inputs, {"ratio": ratio, "exact_lower": odds(low), "exact_upper": odds(high), "p_exact": test.pvalue}


RELATIVE = (1e-7, "relative")

METHODS = (
    ("proportion.wilson", 3000, wilson, "statsmodels proportion_confint", EXACT),
    ("proportion.clopper_pearson", 3000, clopper_pearson, "scipy binomtest", EXACT),
    ("proportion.jeffreys", 3000, jeffreys, "scipy beta, set to 0 and 1 at none and all", EXACT),
    ("proportion.hypergeometric_exact", 1500, hypergeometric, "counted in whole numbers", EXACT),
    ("proportion.wilson_fpc", 3000, wilson_of_part, "roots of its equation, numpy", (1e-8, "absolute")),
    ("difference.newcombe_hybrid", 3000, newcombe, "statsmodels confint_proportions_2indep, newcomb", EXACT),
    ("difference.newcombe_paired", 3000, newcombe_paired, "Newcombe 1998, method 10, written anew", EXACT),
    ("paired.mcnemar", 2000, mcnemar, "statsmodels mcnemar; scipy binom", EXACT),
    ("samplesize.prevalence", 2000, prevalence_size, "in whole fractions", (1e-8, "absolute")),
    ("samplesize.detection", 1000, detection, "scipy hypergeom, every size tried", EXACT),
    ("true_prevalence.rogan_gladen", 2000, rogan_gladen, "Rogan and Gladen 1978 on scipy's limits", (1e-7, "relative")),
    ("rate.poisson_exact_count", 2000, poisson, "scipy gamma", RELATIVE),
    ("rate.per_100_animal_years", 2000, rate, "scipy gamma", RELATIVE),
    ("rate.ratio", 2000, rate_ratio, "scipy binomtest, carried over", RELATIVE),
)

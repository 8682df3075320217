"""What the libraries need for what `cargo bench -p footfold -- --figures` times under *methods*: python times.py."""

import random
import statistics
import time
import warnings

import numpy as np
from lifelines import KaplanMeierFitter
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

TIMES = 7


def median_ms(what):
    """The median of some runs, in milliseconds."""
    took = []
    for _ in range(TIMES):
        began = time.perf_counter()
        what()
        took.append((time.perf_counter() - began) * 1000)
    return statistics.median(took)


def main():
    chance = random.Random(1)
    days = [chance.randint(0, 60) for _ in range(5000)]
    lifted = [chance.random() < 0.8 for _ in days]
    table = np.array([[34, 10, 2, 0], [6, 8, 8, 2], [2, 5, 4, 12], [0, 1, 2, 14]])
    timed = (
        ("Kaplan-Meier, 5,000 waits", lambda: KaplanMeierFitter().fit(days, lifted)),
        ("Wilson, 1,000 shares", lambda: [proportion_confint(n % 200, 200, method="wilson") for n in range(1000)]),
        ("Poisson, 1,000 counts", lambda: [stats.gamma.ppf((0.025, 0.975), (n or 1, n + 1)) for n in range(1000)]),
        ("weighted kappa, 100 tables", lambda: [cohens_kappa(table, wt="linear") for _ in range(100)]),
        ("Fisher, 100 tables", lambda: [stats.fisher_exact([[23, 18], [11, 34]]) for _ in range(100)]),
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for what, of in timed:
            print(f"  {what:<28} {median_ms(of):>9.2f} ms")


if __name__ == "__main__":
    main()

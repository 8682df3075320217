"""Times to events and charts: lifelines, statsmodels, numpy."""

import numpy as np
from lifelines import AalenJohansenFitter, KaplanMeierFitter
from lifelines.statistics import logrank_test
from statsmodels.duration.survfunc import SurvfuncRight

EXACT = (1e-9, "absolute")


def followed(chance, most=40):
    """Days and whether they ended in the event; at times nobody, or everybody, has it."""
    n = chance.randint(1, most)
    share = chance.choice((0.0, 1.0, 0.3, 0.6, 0.8))
    times = [chance.randint(1, 30) for _ in range(n)]
    return times, [int(chance.random() < share) for _ in range(n)]


def kaplan_meier(chance, nth):
    times, events = followed(chance)
    inputs = {"time": times, "event": events, "interval": "loglog", "level": 0.95}
    if not any(events):
        return inputs, {"time": [], "survival_end": 1.0, "first_time_at_or_below_half": None}
    fit = KaplanMeierFitter().fit(times, events)
    table = fit.event_table[fit.event_table["observed"] > 0]
    at = list(table.index)
    survival = [float(fit.predict(time)) for time in at]
    limits = fit.confidence_interval_.loc[at]
    inside = [0 < share < 1 for share in survival]
    lower = [float(low) if known else None for low, known in zip(limits.iloc[:, 0], inside)]
    upper = [float(high) if known else None for high, known in zip(limits.iloc[:, 1], inside)]
    expected = {
        "time": at,
        "at_risk": [int(n) for n in table["at_risk"]],
        "events": [int(n) for n in table["observed"]],
        "survival": survival,
        "lower": lower,
        "upper": upper,
    }
    # Where a share is one half but for rounding, the library may take the next time.
    if all(abs(share - 0.5) > 1e-9 for share in survival):
        expected["first_time_at_or_below_half"] = fit.median_survival_time_
    return inputs, expected


def greenwood(chance, nth):
    times, events = followed(chance)
    if not any(events):
        return None
    fit = SurvfuncRight(np.array(times), np.array(events))
    if fit.surv_prob[-1] == 0:
        return None
    inputs = {"time": times, "event": events, "interval": "plain", "level": 0.95}
    return inputs, {"survival": list(fit.surv_prob), "se_greenwood": list(fit.surv_prob_se)}


def log_rank(chance, nth):
    first, second = followed(chance), followed(chance)
    inputs = {"time1": first[0], "event1": first[1], "time2": second[0], "event2": second[1]}
    if not any(first[1] + second[1]):
        return inputs, {"error": "no event"}
    test = logrank_test(first[0], second[0], first[1], second[1])
    # Where every event has only one group at risk nothing is compared; the library says 0.
    if not np.isfinite(test.test_statistic) or test.test_statistic == 0:
        return None
    return inputs, {"chi2": test.test_statistic, "p": test.p_value}


def aalen_johansen(chance, nth):
    """Times apart from each other: the library shifts those that are not."""
    n = chance.randint(3, 30)
    times = chance.sample(range(1, 200), n)
    status = [chance.choice(("rec", "cull", "cens")) for _ in times]
    if "rec" not in status:
        return None
    code = {"cens": 0, "rec": 1, "cull": 2}
    fit = AalenJohansenFitter(calculate_variance=False).fit(times, [code[of] for of in status], event_of_interest=1)
    at = sorted(time for time, of in zip(times, status) if of != "cens")
    share = [float(fit.cumulative_density_.loc[time].iloc[0]) for time in at]
    return {"time": times, "status": status, "of": "rec"}, {"time": at, "recurrence": share}


def mean_cumulative(chance, nth):
    """Nelson's mean and the variance of Lawless and Nadeau, with a matrix of animals and times."""
    n = chance.randint(2, 12)
    ends = [chance.randint(5, 60) for _ in range(n)]
    happened = [sorted(chance.randint(1, end) for _ in range(chance.randint(0, 4))) for end in ends]
    times = sorted({time for events in happened for time in events})
    if not times:
        return None
    at_risk = np.array([[float(end >= time) for time in times] for end in ends])
    events = np.array([[float(of.count(time)) for time in times] for of in happened])
    step = events.sum(axis=0) / at_risk.sum(axis=0)
    off = np.cumsum(at_risk / at_risk.sum(axis=0) * (events - step), axis=1)
    rows = [(nth, time, 1) for nth, of in enumerate(happened) for time in of] + [(nth, end, 0) for nth, end in enumerate(ends)]
    inputs = {"id": [row[0] for row in rows], "time": [row[1] for row in rows], "event": [row[2] for row in rows]}
    expected = {"at": times, "mcf": list(np.cumsum(step)), "se_lawless_nadeau": list(np.sqrt((off**2).sum(axis=0)))}
    return inputs, expected


def laney(chance, nth):
    rounds = chance.randint(2, 40)
    n = [chance.randint(20, 400) for _ in range(rounds)]
    level = chance.uniform(0.02, 0.9)
    x = [min(of, max(0, round(of * chance.gauss(level, 0.05)))) for of in n]
    center = sum(x) / sum(n)
    if center in (0.0, 1.0):
        return {"x": x, "n": n, "d2": 1.128}, {"error": "nothing varies"}
    sigma = np.sqrt(center * (1 - center) / np.array(n))
    z = (np.array(x) / np.array(n) - center) / sigma
    spread = np.abs(np.diff(z)).mean() / 1.128
    if spread == 0:
        return None
    lower, upper = np.maximum(0, center - 3 * sigma * spread), np.minimum(1, center + 3 * sigma * spread)
    expected = {"center": center, "sigma_z": spread, "lower": list(lower), "upper": list(upper)}
    return {"x": x, "n": n, "d2": 1.128}, expected


METHODS = (
    ("survival.kaplan_meier", 1000, kaplan_meier, "lifelines KaplanMeierFitter", EXACT),
    ("survival.kaplan_meier", 1500, greenwood, "statsmodels SurvfuncRight", EXACT),
    ("survival.logrank", 1000, log_rank, "lifelines logrank_test", (1e-8, "absolute")),
    ("survival.aalen_johansen", 500, aalen_johansen, "lifelines AalenJohansenFitter", (1e-8, "absolute")),
    ("recurrence.mean_cumulative_function", 1500, mean_cumulative, "Nelson 1995, Lawless and Nadeau 1995, with matrices", EXACT),
    ("chart.laney_p", 2000, laney, "Laney 2002, numpy", EXACT),
)

"""The scores that the service tells, from its forecasts of left-out years case by case.

Scores of single cases come from two general-purpose libraries, scoringrules and properscoring, the rest
from numpy and scipy. What counts, and for which days ahead, is written out anew here.
"""

import collections
import itertools
import json

import numpy as np
import properscoring as ps
import scipy.stats
import scoringrules as sr

LEADS = (0, 3, 7, 14, 28, 56)
FURTHEST = 84
CLOCKS = ("calendar", "thermal", "photothermal", "gated")
IN_SEASON_DAYS = 35
FEWEST_DRAWS = 10
FEWEST_FOR_PARTS = 10
BINS = 10


def lead_of(days):
    """The largest lead that is not larger; None for what is past or too far ahead."""
    return max(lead for lead in LEADS if lead <= days) if 0 <= days < FURTHEST else None


def crps(draws, day):
    """Of what the draws stand for: as both libraries tell it, the second from the score of the draws as they are."""
    n = len(draws)
    distance = np.mean(np.abs(draws - day))
    return (
        float(sr.crps_ensemble(day, draws, estimator="fair")),
        float(distance - (distance - ps.crps_ensemble(day, draws)) * n / (n - 1)),
    )


def rps(p, happened):
    cumulative = np.minimum(np.cumsum(p), 1.0)
    return (
        float(sr.rps_score(happened + 1, np.array(p))),
        float(sum(ps.brier_score(float(happened <= k), c) for k, c in enumerate(cumulative))),
    )


def gather(cases):
    """Scores of dates and classes by clock and lead."""
    dates, classes = collections.defaultdict(list), collections.defaultdict(list)
    for case in cases:
        key, season, day = case["clock"], case["season"], case["observed"]
        draws = np.array(case["draws"])
        lead = None if day is None else lead_of(int(np.floor(day - case["issue"])))
        if lead is not None and len(draws) >= FEWEST_DRAWS:
            middle = np.median(draws)
            wide = middle + case["widening"] * (draws - middle)
            low, high = np.quantile(wide, [0.1, 0.9])
            tenth = min(10 * int(np.sum(wide < day)) // len(wide), 9)
            dates[key, lead].append((season, abs(middle - day), *crps(wide, day), low <= day <= high, tenth))
        for one in case["classes"]:
            lead = lead_of(one["day"] - case["issue"])
            if lead is not None:
                near = abs(one["day"] - case["middle"]) <= IN_SEASON_DAYS
                p, happened = one["probabilities"], one["class"]
                classes[key, lead].append((season, *rps(p, happened), near, 1.0 - p[0], float(happened > 0)))
    return dates, classes


def parts(stated, happened):
    """Reliability and resolution over tenths of probability, each standing for its mean."""
    if len(stated) < FEWEST_FOR_PARTS:
        return None, None
    bins = np.minimum(np.floor(stated * BINS), BINS - 1)
    reliability = resolution = 0.0
    for number in np.unique(bins):
        inside = bins == number
        reliability += inside.mean() * (stated[inside].mean() - happened[inside].mean()) ** 2
        resolution += inside.mean() * (happened[inside].mean() - happened.mean()) ** 2
    return reliability, resolution


def skill(own, null, column):
    """Mean over years of the gain on the calendar, in its mean score, and its standard error."""
    def by_year(rows):
        rows = sorted(rows, key=lambda row: row[0])
        return {year: np.mean([r[column] for r in part]) for year, part in itertools.groupby(rows, lambda r: r[0])}

    own, null = by_year(own), by_year(null)
    years = sorted(own.keys() & null.keys())
    if not years:
        return None, None
    gains = np.array([null[y] - own[y] for y in years]) / np.mean([null[y] for y in years])
    return gains.mean(), scipy.stats.sem(gains) if len(years) > 1 else None


def expected(dates, classes, key):
    """Name and value of what is to be told; names that occur twice come from both libraries."""
    own, records = dates[key], classes[key]
    null = dates["calendar", key[1]]
    yield "years", len({row[0] for row in own} | {row[0] for row in records})
    yield "dates", len(own)
    yield "records", len(records)
    if own:
        table = np.array([row[1:] for row in own], dtype=float)
        yield "mae_days", table[:, 0].mean()
        yield "crps_days", table[:, 1].mean()
        yield "crps_days", table[:, 2].mean()
        yield "cover80", table[:, 3].mean()
        yield "pit", np.bincount(table[:, 4].astype(int), minlength=10) / len(own)
    else:
        for name in ("mae_days", "crps_days", "cover80", "pit"):
            yield name, None
    for column in (2, 3):
        gain, error = skill(own, null, column)
        yield "skill_crps", gain
        yield "skill_se", error
    if records:
        table = np.array([row[1:] for row in records], dtype=float)
        near = table[:, 2] > 0
        for column in (0, 1):
            yield "rps", table[:, column].mean()
            yield "rps_in_season", table[near, column].mean() if near.any() else None
        stated, happened = table[:, 3], table[:, 4]
        yield "brier", np.mean([sr.brier_score(int(o), f) for f, o in zip(stated, happened)])
        yield "brier", ps.brier_score(happened, stated).mean()
        reliability, resolution = parts(stated, happened)
        yield "reliability", reliability
        yield "resolution", resolution
    else:
        for name in ("rps", "rps_in_season", "brier", "reliability", "resolution"):
            yield name, None


def mixtures(cases, weights):
    """What is shipped holds each clock's draws in proportion to its weight, from its first on, and its classes.

    The club's classes are seen, not counted, so nothing else is mixed into them.
    """
    for number, group in itertools.groupby(cases, key=lambda case: case["group"]):
        said = {case["clock"]: case for case in group}
        shipped = said.pop("shipped")
        share = dict(zip(CLOCKS, weights[shipped["season"]]))
        draws = []
        for clock in (clock for clock in CLOCKS if clock in said):
            ours = said[clock]["draws"]
            draws += ours[: int(np.floor(share[clock] * len(ours) + 0.5))]
        yield draws == shipped["draws"], f"group {number}: other draws are shipped than the weights say"
        classes = np.zeros((len(shipped["classes"]), 4))
        for clock in said:
            for sum_, one in zip(classes, said[clock]["classes"], strict=True):
                sum_ += share[clock] * np.array(one["probabilities"])
        told = [one["probabilities"] for one in shipped["classes"]]
        yield np.allclose(classes, np.reshape(told, (-1, 4)), atol=1e-12), f"group {number}: other classes are shipped"
        yield shipped["widening"] >= 1.0, f"group {number}: narrowed by {shipped['widening']}"


def check(rows):
    for name, group in itertools.groupby(rows, key=lambda row: row["set"]):
        kinds = collections.defaultdict(list)
        for row in group:
            kinds[row["kind"]].append(json.loads(row["json"]))
        if kinds["weights"]:
            yield from mixtures(kinds["case"], {row["season"]: row["weights"] for row in kinds["weights"]})
        dates, classes = gather(kinds["case"])
        told = {(row["clock"], row["lead_days"]): row for row in kinds["told"]}
        yield set(told) == dates.keys() | classes.keys(), f"{name}: other clocks and leads are told than were scored"
        yield any(row["skill_se"] for row in told.values()), f"{name}: no skill is told at all"
        for key, row in told.items():
            for field, want in expected(dates, classes, key):
                have = row[field]
                if want is None or have is None:
                    good = want is None and have is None
                else:
                    good = np.allclose(have, want, rtol=1e-8, atol=1e-8)
                yield bool(good), f"{name}, {key}: {field} is told as {have}, {want} is expected"

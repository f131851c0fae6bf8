"""Scores against scoringrules, a general-purpose library of scoring rules."""

import numpy as np
import scoringrules as sr


def want(row):
    a, b, y = (float(row[name]) for name in ("a", "b", "outcome"))
    members = np.array([float(m) for m in row["members"].split()])
    match row["score"]:
        case "normal":
            return sr.crps_normal(y, a, b)
        case "logistic":
            return sr.crps_logistic(y, a, b)
        case "lognormal":
            return sr.crps_lognormal(y, a, b)
        case "ensemble":
            return sr.crps_ensemble(y, members, estimator="nrg")
        case "fair":
            return sr.crps_ensemble(y, members, estimator="fair")
        case "rps":
            # Their classes count from 1.
            return sr.rps_score(int(y) + 1, members)
        case "brier":
            return sr.brier_score(int(y), a)
    raise KeyError(row["score"])


def check(rows):
    for row in rows:
        off = float(row["value"]) - float(want(row))
        yield abs(off) < 1e-8 * max(1.0, abs(float(row["value"]))), f"{row['score']}: off by {off:.2e}"

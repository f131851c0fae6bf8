"""Degree-days against scipy's quadrature of the assumed curve.

The rate is integrated as it is defined at each instant, except for the intermediate cut-off, whose
floor at zero applies to the whole day.
"""

import math

from scipy.integrate import quad


def half_day(shape, low, high, share):
    """Temperature a `share` of the way from `low` to `high`."""
    if shape == "sine":
        return (low + high) / 2 - (high - low) / 2 * math.cos(math.pi * share)
    return low + (high - low) * share


def crossing(shape, low, high, level):
    """Share of the way at which `level` is crossed, if it is."""
    if not min(low, high) < level < max(low, high):
        return []
    part = (level - low) / (high - low)
    return [math.acos(1 - 2 * part) / math.pi if shape == "sine" else part]


def rate(temp, lower, upper, cutoff):
    if cutoff == "share":
        return 1.0 if temp > lower else 0.0
    if temp <= lower:
        return 0.0
    if cutoff == "none" or temp <= upper:
        return temp - lower
    return {"horizontal": upper - lower, "intermediate": 2 * upper - lower - temp, "vertical": 0.0}[cutoff]


def day(shape, tmin, tmax, tmin_next, lower, upper, cutoff):
    total = 0.0
    for low, high in ((tmin, tmax), (tmax, tmin_next)):
        cuts = sorted({0.0, 1.0, *crossing(shape, low, high, lower), *crossing(shape, low, high, upper)})
        for a, b in zip(cuts, cuts[1:]):
            value, _ = quad(
                lambda t: rate(half_day(shape, low, high, t), lower, upper, cutoff), a, b, epsabs=1e-12, epsrel=1e-12
            )
            total += value / 2
    return max(0.0, total)


def check(rows):
    for row in rows:
        numbers = [float(row[c]) for c in ("tmin", "tmax", "tmin_next", "lower", "upper")]
        tmin, tmax, tmin_next, lower, upper = numbers
        method = row["method"]
        shape = "triangle" if method.endswith("triangle") else "sine"
        if not method.startswith("double"):
            tmin_next = tmin
        cutoff = "share" if method == "fit_sine_share" else row["cutoff"]
        off = float(row["degree_days"]) - day(shape, tmin, tmax, tmin_next, lower, upper, cutoff)
        yield abs(off) < 1e-8, f"{method} {cutoff} {numbers}: off by {off:.2e}"

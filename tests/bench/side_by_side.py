"""The work of side_by_side.rs in numpy and scipy: side_by_side.py PROBLEM prints median seconds as JSON.

Vectorised over visits and over days; L-BFGS-B with the analytic gradient; Hessian by central
differences of the gradient, one parameter at a time; sds of effects by the same steps on the log
evidence as the program takes. Years are left out in as many processes as there are cores, for a
part of the years, scaled to all of them.
"""

import json
import multiprocessing
import os
import statistics
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.special import expit, log_expit, ndtr

STRAYS, EVEN, STEEPNESS = 0.002, 0.02, 6.0
TB, DC, D50, LSIG, LB, T1, LG2, LG3, H0, H1, LSH, BETA = range(12)
COVARIATES = 3
FOLDS_TIMED = 4
DRAWS = 300


class Problem:
    def __init__(self, given, clock, without_year=None):
        self.clock = clock
        kept = np.array([year != without_year for _, year in given["units"]])
        self.unit_site, self.unit_year = np.array(given["units"]).T
        visits = np.array(given["visits"])
        self.left = visits[~kept[visits[:, 0].astype(int)]]
        visits = visits[kept[visits[:, 0].astype(int)]]
        self.take(visits)
        self.tmin, self.tmax = np.array(given["tmin_c"]), np.array(given["tmax_c"])
        self.daylen = np.array(given["day_length_hours"])
        self.climate = np.array(given["climate_tmin_c"]), np.array(given["climate_tmax_c"])
        s, y, n = given["sites"], given["years"], len(given["units"])
        own = given["clocks"][clock]
        self.mean, self.sd, self.free = (np.array(own[k]) for k in ("mean", "sd", "free"))
        u = BETA + COVARIATES
        bounds = np.cumsum([u, s, y, s, n, n])
        self.u, self.v, self.a, self.shift, self.level = (slice(*pair) for pair in zip(bounds, bounds[1:]))
        self.kinds = (self.u, self.v, self.a, self.shift, self.level)
        self.is_effect = np.arange(len(self.mean)) >= u
        # Effects of what was left out stay at zero.
        for part, seen in ((self.v, self.unit_year[kept]), (self.shift, np.flatnonzero(kept)), (self.level, np.flatnonzero(kept))):
            used = np.zeros(part.stop - part.start, bool)
            used[seen] = True
            self.free[part] &= used
        self.last = int(self.day.max())
        self.kept = np.flatnonzero(kept)

    def take(self, visits):
        self.unit, self.day, self.klass = (visits[:, k].astype(int) for k in range(3))
        self.effort, self.start, self.end, self.water = (visits[:, k] for k in range(3, 7))
        self.x = visits[:, 7 : 7 + COVARIATES]

    def increments(self, tmin, tmax, tb, dc):
        """r, dr/dTb and dr/dDc by day."""
        if self.clock == "calendar":
            return np.ones_like(tmin), np.zeros_like(tmin), np.zeros_like(tmin)
        mid, half = (tmin + tmax) / 2, (tmax - tmin) / 2
        with np.errstate(divide="ignore", invalid="ignore"):
            angle = np.arcsin(np.clip((tb - mid) / half, -1, 1))
        e = ((mid - tb) * (np.pi / 2 - angle) + half * np.cos(angle)) / np.pi
        f = 0.5 - angle / np.pi
        low, high = tb <= tmin, tb >= tmax
        e, f = np.where(high, 0, np.where(low, mid - tb, e)), np.where(high, 0, np.where(low, 1, f))
        daylen = self.daylen[: tmin.shape[-1]]
        if self.clock == "photothermal":
            return e * daylen / 12, -f * daylen / 12, np.zeros_like(e)
        if self.clock == "gated":
            gate = expit(STEEPNESS * (daylen - dc))
            return e * gate, -f * gate, -e * STEEPNESS * gate * (1 - gate)
        return e, -f, np.zeros_like(e)

    def runs(self, tmin, tmax, tb, dc):
        with_zero = lambda r: np.concatenate([np.zeros((*r.shape[:-1], 1)), np.cumsum(r, axis=-1)], axis=-1)
        return [with_zero(r) for r in self.increments(tmin, tmax, tb, dc)]

    def __call__(self, theta):
        """Negative log posterior and its gradient, zero for parameters that are held."""
        tb, dc, d50 = theta[TB], theta[DC], theta[D50]
        ref = self.runs(*self.climate, tb, dc)
        left = int(np.clip(np.floor(d50), 0, len(ref[0]) - 2))
        part = d50 - left
        cref, cref_tb, cref_dc = (r[left] + part * (r[left + 1] - r[left]) for r in ref)
        slope = ref[0][left + 1] - ref[0][left]
        if cref <= 0 or slope <= 0:
            return np.inf, np.zeros_like(theta)
        rows = self.kept
        c, c_tb, c_dc = self.runs(self.tmin[rows, : self.last], self.tmax[rows, : self.last], tb, dc)
        row = np.searchsorted(rows, self.unit)
        at0, at1 = (row, self.day - 1), (row, self.day)
        sigma, b, spread = np.exp(theta[LSIG]), np.exp(theta[LB]), np.exp(theta[LSH])
        site, year = self.unit_site[self.unit], self.unit_year[self.unit]
        ell = np.log(cref) + theta[self.u][site] + theta[self.v][year] + theta[self.shift][self.unit]
        with np.errstate(divide="ignore"):
            z0, z1 = ((np.log(c[at]) - ell) / sigma for at in (at0, at1))
        f0, f1 = expit(z0), expit(z1)
        q = (1 - STRAYS) * (f1 - f0) + STRAYS / 365
        d0, d1 = f0 * (1 - f0), f1 * (1 - f1)
        warmth = self.water - 12
        peak = theta[H0] + theta[H1] * warmth
        y0, y1 = (self.start - peak) / spread, (self.end - peak) / spread
        n0, n1 = (np.exp(-0.5 * y * y) / np.sqrt(2 * np.pi) for y in (y0, y1))
        s = (1 - EVEN) * (ndtr(y1) - ndtr(y0)) + EVEN * (self.end - self.start) / 24
        base = np.log(q) + np.log(s) + self.effort
        eta = b * base + self.x @ theta[BETA : BETA + COVARIATES] + theta[self.a][site] + theta[self.level][self.unit]
        gaps = np.exp(theta[[LG2, LG3]])
        tau = theta[T1] + np.array([0, gaps[0], gaps[0] + gaps[1]])
        k = self.klass
        upper, lower = eta - tau[np.maximum(k - 1, 0)], eta - tau[np.minimum(k, 2)]
        big, small = np.where(k == 0, 1.0, expit(upper)), np.where(k == 3, 0.0, expit(lower))
        inner = -np.expm1(-np.append(gaps, 1.0)[np.clip(k - 1, 0, 1)])
        log_p = np.where(k == 0, log_expit(-lower), np.where(k == 3, log_expit(upper), log_expit(upper) + log_expit(-lower) + np.log(inner)))
        p = np.exp(log_p)
        g = 1 - big - small
        t_low, t_high = -big * (1 - big) / p, small * (1 - small) / p
        t = [(t_low * (k == j + 1)).sum() + (t_high * (k == j)).sum() for j in range(3)]
        gradient = np.zeros_like(theta)
        per = b * g * (1 - STRAYS) / q
        g_ell = per * -(d1 - d0) / sigma
        with np.errstate(invalid="ignore"):
            gradient[LSIG] = (per * -(np.nan_to_num(d1 * z1) - np.nan_to_num(d0 * z0))).sum()
        inverse = lambda at: np.divide(1.0, c[at], out=np.zeros_like(ell), where=c[at] > 0)
        w1, w0 = per * d1 * inverse(at1) / sigma, per * d0 * inverse(at0) / sigma
        total = g_ell.sum()
        gradient[D50] = total * slope / cref
        gradient[TB] = (w1 * c_tb[at1] - w0 * c_tb[at0]).sum() + total * cref_tb / cref
        gradient[DC] = (w1 * c_dc[at1] - w0 * c_dc[at0]).sum() + total * cref_dc / cref
        gradient[LB] = (b * base * g).sum()
        gradient[T1], gradient[LG2], gradient[LG3] = sum(t), (t[1] + t[2]) * gaps[0], t[2] * gaps[1]
        per_hour = b * g * (1 - EVEN) / s
        moved = per_hour * -(n1 - n0) / spread
        gradient[H0], gradient[H1] = moved.sum(), (moved * warmth).sum()
        gradient[LSH] = (per_hour * -(n1 * y1 - n0 * y0)).sum()
        gradient[BETA : BETA + COVARIATES] = g @ self.x
        for part, index, what in (
            (self.u, site, g_ell), (self.v, year, g_ell), (self.shift, self.unit, g_ell),
            (self.a, site, g), (self.level, self.unit, g),
        ):
            gradient[part] = np.bincount(index, what, part.stop - part.start)
        z = (theta - self.mean) / self.sd
        value = -log_p.sum() + (0.5 * z * z + np.where(self.is_effect, np.log(self.sd), 0))[self.free].sum()
        gradient = np.where(self.free, -gradient + z / self.sd, 0.0)
        return (value if np.isfinite(value) else np.inf), gradient


def hessian(problem, theta, free, scale):
    columns = []
    for index, size in zip(free, scale):
        step = 1e-5 * max(size, 1e-3)
        moved = theta.copy()
        moved[index] += step
        up = problem(moved)[1]
        moved[index] -= 2 * step
        columns.append((up - problem(moved)[1])[free] / (2 * step))
    h = np.array(columns)
    return (h + h.T) / 2


def log_det(factor):
    return 2 * np.log(np.diag(factor[0])).sum()


def laplace(problem, start):
    """Mode, Cholesky factor of the Hessian, log evidence."""
    free = np.flatnonzero(problem.free)
    scale = np.minimum(problem.sd[free], 5.0)
    theta = start.copy()

    def scaled(x):
        theta[free] = x * scale
        value, gradient = problem(theta)
        return value, gradient[free] * scale

    found = minimize(scaled, start[free] / scale, jac=True, method="L-BFGS-B", options={"maxfun": 300, "maxiter": 300, "gtol": 1e-5, "ftol": 1e-14, "maxcor": 12})
    theta[free] = found.x * scale
    factor = cho_factor(hessian(problem, theta, free, scale), lower=True)
    return theta, factor, -found.fun - log_det(factor) / 2 + len(free) / 2 * np.log(2 * np.pi)


def with_sds(problem, sds):
    for part, sd in zip(problem.kinds, sds):
        problem.sd[part] = sd


def log_prior(sds, scales):
    return (np.log(sds) - 0.5 * (sds / scales) ** 2).sum()


def improved(problem, sds, scales, fit):
    """One step of the sds: side_by_side.rs and its library say how."""
    theta, factor, _ = fit
    free = np.flatnonzero(problem.free)
    scale = np.minimum(problem.sd[free], 5.0)
    lower = np.tril(factor[0])
    variances = np.diag(cho_solve(factor, np.eye(len(free))))
    new = sds.copy()
    for k, part in enumerate(problem.kinds):
        rows = np.flatnonzero((free >= part.start) & (free < part.stop))
        slack = np.zeros(len(free))
        slack[rows] = 2 * theta[free[rows]] / sds[k] ** 2
        direction = cho_solve(factor, slack)
        length = np.linalg.norm(lower.T @ direction)
        turn = 0.0
        if length > 0:
            beside = theta.copy()
            beside[free] += 0.03 / length * direction
            try:
                there = log_det(cho_factor(hessian(problem, beside, free, scale), lower=True))
                turn = (there - log_det(factor)) * length / 0.03
            except np.linalg.LinAlgError:
                turn = 0.0
        known = len(rows) - variances[rows].sum() / sds[k] ** 2 + 0.5 * turn - 1
        h2 = scales[k] ** 2
        best = np.sqrt(0.5 * h2 * (np.sqrt(known**2 + 4 * (theta[free[rows]] ** 2).sum() / h2) - known))
        new[k] = np.clip(sds[k] * np.exp(np.clip(np.log(best / sds[k]), -1, 1)), 0.03 * scales[k], 4 * scales[k])
    return new


def settle(problem, sds, scales, start, rounds):
    with_sds(problem, sds)
    fit = laplace(problem, start)
    score = fit[2] + log_prior(sds, scales)
    for _ in range(rounds):
        aim = improved(problem, sds, scales, fit)
        for part in (1.0, 0.5, 0.25):
            trial = sds * (aim / sds) ** part
            with_sds(problem, trial)
            try:
                other = laplace(problem, fit[0])
            except np.linalg.LinAlgError:
                continue
            gain = other[2] + log_prior(trial, scales) - score
            if gain > 0:
                break
        else:
            with_sds(problem, sds)
            break
        sds, fit, score = trial, other, score + gain
        if gain < 0.1:
            break
    return sds, fit


def whole_fit(given, clock):
    """Five starts, the end with the most evidence, the sds of effects."""
    own = given["clocks"][clock]
    problem = Problem(given, clock)
    with_sds(problem, np.array(own["start"]))
    ends = []
    for offset in (0, -15, 15, -30, 30):
        start = problem.mean.copy()
        start[D50] += offset
        free = np.flatnonzero(problem.free)
        scale = np.minimum(problem.sd[free], 5.0)

        def scaled(x):
            theta = start.copy()
            theta[free] = x * scale
            value, gradient = problem(theta)
            return value, gradient[free] * scale

        found = minimize(scaled, start[free] / scale, jac=True, method="L-BFGS-B", options={"maxfun": 150, "gtol": 1e-3, "maxcor": 12})
        start[free] = found.x * scale
        if np.isfinite(found.fun) and all(abs(found.fun - v) > 0.05 or abs(start[D50] - e[D50]) > 0.05 for v, e in ends):
            ends.append((found.fun, start))
    fits = []
    for _, end in ends:
        try:
            fits.append(laplace(problem, end))
        except np.linalg.LinAlgError:
            continue
    best = max(fits, key=lambda fit: fit[2])
    return settle(problem, np.array(own["start"]), np.array(own["scales"]), best[0], 12)


def left_out(given, clock, year, sds, mode):
    """Fit without a year under the sds of all years, as the library does, and the log scores of the year's visits."""
    own = given["clocks"][clock]
    problem = Problem(given, clock, year)
    start = np.where(problem.free, mode, problem.mean)
    try:
        sds, (theta, factor, _) = settle(problem, sds, np.array(own["scales"]), start, 0)
    except np.linalg.LinAlgError:
        return float("nan")
    free = np.flatnonzero(problem.free)
    rng = np.random.default_rng(1)
    problem.take(problem.left)
    units = np.unique(problem.unit)
    row = np.searchsorted(units, problem.unit)
    last = int(problem.day.max())
    sums = np.zeros(len(problem.unit))
    lower = np.tril(factor[0])
    for _ in range(DRAWS):
        drawn = theta.copy()
        drawn[free] += np.linalg.solve(lower.T, rng.standard_normal(len(free)))
        c = problem.runs(problem.tmin[units, :last], problem.tmax[units, :last], drawn[TB], drawn[DC])[0]
        ref = problem.runs(*problem.climate, drawn[TB], drawn[DC])[0]
        cref = np.interp(drawn[D50], np.arange(len(ref)), ref)
        ell = np.log(cref) + drawn[problem.u][problem.unit_site[problem.unit]] + sds[1] * rng.standard_normal()
        ell = ell + (sds[3] * rng.standard_normal(len(units)))[row]
        with np.errstate(divide="ignore"):
            f0, f1 = (expit((np.log(c[row, day]) - ell) / np.exp(drawn[LSIG])) for day in (problem.day - 1, problem.day))
        q = (1 - STRAYS) * (f1 - f0) + STRAYS / 365
        peak, spread = drawn[H0] + drawn[H1] * (problem.water - 12), np.exp(drawn[LSH])
        s = (1 - EVEN) * (ndtr((problem.end - peak) / spread) - ndtr((problem.start - peak) / spread))
        s = s + EVEN * (problem.end - problem.start) / 24
        eta = np.exp(drawn[LB]) * (np.log(q) + np.log(s) + problem.effort) + problem.x @ drawn[BETA : BETA + COVARIATES]
        eta = eta + drawn[problem.a][problem.unit_site[problem.unit]] + (sds[4] * rng.standard_normal(len(units)))[row]
        gaps = np.exp(drawn[[LG2, LG3]])
        tau = drawn[T1] + np.array([0, gaps[0], gaps[0] + gaps[1]])
        at_least = np.column_stack([np.ones(len(eta)), expit(eta[:, None] - tau), np.zeros(len(eta))])
        sums += (at_least[:, :-1] - at_least[:, 1:])[np.arange(len(eta)), problem.klass]
    return float(np.log(np.maximum(sums / DRAWS, 1e-300)).sum())


def seconds(work, times):
    work()
    found = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        found.append(time.perf_counter() - began)
    return statistics.median(found)


def main(path):
    with open(path, encoding="utf-8") as handle:
        given = json.load(handle)
    for clock, own in given["clocks"].items():
        value, gradient = Problem(given, clock)(np.array(own["point"]))
        if abs(value - own["value"]) > 1e-8 * abs(value) or np.abs(gradient - own["gradient"]).max() > 1e-6 * np.abs(gradient).max():
            sys.exit(f"{clock}: not the same density: {value} against {own['value']}")
    problem = Problem(given, "thermal")
    theta = problem.mean.copy()

    def once():
        theta[TB] += 1e-6
        problem(theta)

    result = {"value_and_gradient": seconds(once, 100), "fit": seconds(lambda: laplace(problem, problem.mean.copy()), 3)}
    began = time.perf_counter()
    fits = {"thermal": whole_fit(given, "thermal")}
    result["sds_of_effects"] = time.perf_counter() - began
    print(f"thermal: sds {fits['thermal'][0]}, mode {fits['thermal'][1][0][:6]}", file=sys.stderr)
    for clock in given["clocks"]:
        if clock not in fits:
            # Near enough for a start: one round of the sds.
            own = given["clocks"][clock]
            other = Problem(given, clock)
            fits[clock] = settle(other, np.array(own["start"]), np.array(own["scales"]), other.mean.copy(), 1)
    jobs = [(given, clock, year, fits[clock][0], fits[clock][1][0]) for year in range(FOLDS_TIMED) for clock in fits]
    with multiprocessing.Pool(os.cpu_count()) as pool:
        began = time.perf_counter()
        scores = pool.starmap(left_out, jobs, chunksize=1)
        took = time.perf_counter() - began
    result["four_clock_hindcast"] = took * given["years"] / FOLDS_TIMED
    by_clock = {clock: round(sum(scores[k :: len(fits)]), 1) for k, clock in enumerate(fits)}
    print(f"log scores of {FOLDS_TIMED} years left out: {by_clock}", file=sys.stderr)
    json.dump(result, sys.stdout)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(sys.argv[1])

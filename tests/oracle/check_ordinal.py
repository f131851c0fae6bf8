"""The class likelihood against statsmodels' ordered logit: at given points, and where it is highest.

Both models have thresholds as the first one and the logs of the gaps, and a linear predictor without
a constant; neither has a prior.
"""

import itertools

import numpy as np
from statsmodels.miscmodels.ordinal_model import OrderedModel

NAMES = ("slope", "tau1", "log_gap2", "log_gap3")


def check(rows):
    for number, group in itertools.groupby(rows, key=lambda row: row["set"]):
        group = list(group)
        records = [row for row in group if row["kind"] == "record"]
        model = OrderedModel(
            np.array([int(row["class"]) for row in records]),
            np.array([[float(row["x"])] for row in records]),
            distr="logit",
        )
        fit = model.fit(method="bfgs", disp=False, gtol=1e-9, maxiter=500)
        # A few Newton steps with the numerical Hessian carry the fit to the limit of its gradient.
        best = np.asarray(fit.params)
        for _ in range(3):
            best = best - np.linalg.solve(model.hessian(best), model.score(best))
        ours = {row["kind"]: row for row in group if row["kind"] != "record"}
        for kind in ("point", "highest"):
            at = np.array([float(ours[kind][name]) for name in NAMES])
            off = float(ours[kind]["log_likelihood"]) - model.loglike(at)
            yield abs(off) < 1e-8, f"set {number}, log likelihood at {kind}: off by {off:.2e}"
        off = float(ours["highest"]["log_likelihood"]) - model.loglike(best)
        yield abs(off) < 1e-8, f"set {number}, highest log likelihood: off by {off:.2e}"
        for name, theirs in zip(NAMES, best):
            off = float(ours["highest"][name]) - theirs
            yield abs(off) < 1e-5, f"set {number}, {name} where it is highest: off by {off:.2e}"

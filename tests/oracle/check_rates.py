"""Mean development rates over a sine day against scipy's quadrature of the printed equations."""

import math

from scipy.integrate import quad

K = 8.62e-5


def briere1(t):
    return 6e-5 * t * (t - 4) * math.sqrt(30 - t) if 4 < t < 30 else 0.0


def lactin2(t):
    return max(0.0, math.exp(0.0065 * t) - math.exp(0.0065 * 31 - (31 - t) / 1.8) - 1.025)


def sharpe_schoolfield(t):
    here, low, high, ref = (1 / (x + 273.15) for x in (t, 4, 27, 15))
    top = 0.05 * math.exp(-0.65 / K * (here - ref))
    return top / (1 + math.exp(2.0 / K * (here - low)) + math.exp(3.5 / K * (high - here)))


CURVES = {"briere1": briere1, "lactin2": lactin2, "sharpe_schoolfield": sharpe_schoolfield}


def check(rows):
    for row in rows:
        curve, tmin, tmax = CURVES[row["curve"]], float(row["tmin"]), float(row["tmax"])
        mean, half = (tmin + tmax) / 2, (tmax - tmin) / 2
        # Half a cosine is a whole day twice over; the kinks of a curve are cut out for the quadrature.
        cuts = [0.0, math.pi, *(math.acos((mean - c) / half) for c in (4, 30) if tmin < c < tmax)]
        cuts.sort()
        want = sum(
            quad(lambda x: curve(mean - half * math.cos(x)), a, b, epsabs=1e-13, epsrel=1e-12, limit=200)[0]
            for a, b in zip(cuts, cuts[1:])
        ) / math.pi
        off = float(row["mean_rate"]) - want
        # The product sums 96 instants: exact on smooth curves, less so over a kink.
        yield abs(off) < (1e-9 if len(cuts) == 2 and row["curve"] != "lactin2" else 2e-5), (
            f"{row['curve']} {tmin}..{tmax}: off by {off:.2e}"
        )

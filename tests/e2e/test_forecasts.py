"""The forecasts of the running demo keep the promises of the forecast document."""

import datetime

import pytest

CLASSES = ["none", "sparse", "moderate", "heavy"]
SHARES = [0.05, 0.10, 0.50, 0.90, 0.95]


@pytest.fixture(scope="module")
def forecasts(get, watershed):
    answer = get(f"/v1/watersheds/{watershed}/forecasts")
    assert answer.status_code == 200
    return answer.json()["items"]


def faults_of(forecast):
    """What a forecast document gets wrong, in words."""
    faults = []
    if [m["share"] for m in forecast["milestones"]] != SHARES:
        faults.append("milestones are not the five in order")
    for dates in [*forecast["milestones"], forecast["peak"]]:
        known = [dates[q] for q in ("p10", "p50", "p90") if dates[q]]
        if known != sorted(known):
            faults.append(f"quantiles out of order: {known}")
    if abs(sum(forecast["clock"]["weights"].values()) - 1) > 1e-9:
        faults.append("weights do not sum to 1")
    last = 0.0
    for day in forecast["days"]:
        odds = day["class_probabilities"]
        if list(odds) != CLASSES or abs(sum(odds.values()) - 1) > 1e-9 or min(odds.values()) < 0:
            faults.append(f"{day['date']}: classes {odds}")
        if day["cumulative"] < last - 1e-12 or not 0 <= day["cumulative"] <= 1 + 1e-9:
            faults.append(f"{day['date']}: cumulative {day['cumulative']} after {last}")
        last = day["cumulative"]
    dates = [datetime.date.fromisoformat(d["date"]) for d in forecast["days"]]
    if any(b - a != datetime.timedelta(days=1) for a, b in zip(dates, dates[1:])):
        faults.append("days are not consecutive")
    return faults


def test_every_reach_has_every_taxon(get, watershed, forecasts):
    reaches = {r["slug"] for r in get(f"/v1/watersheds/{watershed}/reaches").json()["items"]}
    taxa = {f["taxon"] for f in forecasts}
    assert len(reaches) == 5 and len(taxa) == 12
    assert {(f["reach"], f["taxon"]) for f in forecasts} == {(r, t) for r in reaches for t in taxa}


def test_documents_keep_their_promises(forecasts):
    for forecast in forecasts:
        assert faults_of(forecast) == [], (forecast["reach"], forecast["taxon"], forecast["brood"])
        assert len(forecast["days"]) == 16


def test_the_check_notices_faults(forecasts):
    broken = dict(forecasts[0], milestones=list(reversed(forecasts[0]["milestones"])))
    assert faults_of(broken)
    day = dict(forecasts[0]["days"][0], class_probabilities=dict.fromkeys(CLASSES, 0.3))
    assert faults_of(dict(forecasts[0], days=[day]))


def test_half_days_follow_the_water(forecasts):
    """The warm brook runs before the cold high meadow for an insect that warmth drives."""
    half = {f["reach"]: f["milestones"][2]["p50"] for f in forecasts if f["taxon"] == "ephemera-danica"}
    assert half["fallow-brook"] < half["ostrey-high-meadow"]

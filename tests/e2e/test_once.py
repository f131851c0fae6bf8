"""`demo --once --json`: one JSON document on standard output and nothing more, and a continued folder."""

import datetime
import json
import os
import subprocess

import pytest

from test_forecasts import faults_of


@pytest.fixture(scope="module")
def binary():
    path = os.environ.get("DEMO_BINARY")
    if not path:
        pytest.fail("DEMO_BINARY must name the program")
    return path


def run(binary, *arguments):
    return subprocess.run([binary, *arguments], capture_output=True, text=True, timeout=900, check=False)


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    return str(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def once(binary, data):
    return run(binary, "demo", "--once", "--json", "--data", data, "--today", "2026-05-20")


def test_it_prints_one_document_with_the_coming_week_of_every_reach_and_taxon(once):
    assert once.returncode == 0, once.stderr
    items = json.loads(once.stdout)["items"]
    assert len({f["reach"] for f in items}) == 5 and len({f["taxon"] for f in items}) == 12
    assert len({(f["reach"], f["taxon"]) for f in items}) == 60
    week = [str(datetime.date(2026, 5, 20) + datetime.timedelta(days=n)) for n in range(7)]
    for forecast in items:
        assert [day["date"] for day in forecast["days"]] == week
        assert faults_of(forecast) == []


def test_no_token_is_printed(once):
    assert "subimago_" not in once.stdout + once.stderr


def test_another_seed_or_an_earlier_day_is_refused_there(binary, data, once):
    for wish in (["--seed", "99"], ["--today", "2026-05-01"], ["--today", "2027-05-20"]):
        refused = run(binary, "demo", "--once", "--data", data, *wish)
        assert refused.returncode == 1 and refused.stdout == "", wish
        assert "to mend" in refused.stderr

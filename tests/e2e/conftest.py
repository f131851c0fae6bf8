"""Checks of a running demo with other people's readers. The address comes in DEMO_URL, how to run the reader that is
written in JavaScript in CALENDAR_READER."""

import os

import pytest
import requests


@pytest.fixture(scope="session")
def url():
    address = os.environ.get("DEMO_URL")
    if not address:
        pytest.fail("DEMO_URL must name a running demo, for example http://127.0.0.1:8080")
    return address.rstrip("/")


@pytest.fixture(scope="session")
def get(url):
    session = requests.Session()

    def fetch(path, **options):
        return session.get(url + path, timeout=30, **options)

    return fetch


@pytest.fixture(scope="session")
def watershed(get):
    items = get("/v1/watersheds").json()["items"]
    assert [item["slug"] for item in items] == ["river-ostrey"], "the demo has one invented river"
    return items[0]["slug"]

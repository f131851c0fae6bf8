"""How much travels to who looks, how soon the first page is there, and how long the service thinks about a page."""

import os
import re
import signal
import socket
import statistics
import subprocess
import time

import pytest
import requests

PAGE_BYTES = 60_000
FORM_BYTES = 30 * 1024
FEED_BYTES = 256 * 1024
FIRST_PAGE_S = 2.0


def travels(url, path):
    """Bytes of the body at `path` as it comes to a browser, and what it says."""
    with requests.get(url + path, headers={"Accept-Encoding": "gzip"}, stream=True, timeout=30) as answer:
        assert answer.status_code == 200, path
        size = len(answer.raw.read(decode_content=False))
    return size, requests.get(url + path, timeout=30).text


def with_files(url, path):
    """The same with the files of ours that the page loads."""
    size, html = travels(url, path)
    files = re.findall(r'<link rel="stylesheet" href="([^"]+)"|<script src="([^"]+)"|<img src="(/[^"]+)"', html)
    return size + sum(travels(url, next(filter(None, one)))[0] for one in files)


def test_pages_are_light(url, get, watershed):
    reach = get(f"/v1/watersheds/{watershed}/reaches").json()["items"][0]["slug"]
    water, here = f"/w/{watershed}", f"/w/{watershed}/reaches/{reach}"
    paths = ["/", water, f"{water}/season", f"{water}/print", f"{water}/skill", f"{water}/taxa/ephemera-danica",
             f"{water}/seen", here, f"{here}/card", f"{here}/seen?length_mm=8&tails=2", "/about", "/reference", "/problems",
             f"/embed/{watershed}", f"/report?w={watershed}"]  # fmt: skip
    sizes = {path: with_files(url, path) for path in paths}
    sizes[f"/embed/{watershed}.svg"] = travels(url, f"/embed/{watershed}.svg")[0]
    form = sizes[f"/report?w={watershed}"] + travels(url, "/report-worker.js")[0]
    print({**sizes, "form with its worker": form})
    assert {path: size for path, size in sizes.items() if size >= PAGE_BYTES} == {}
    assert 4096 < form < FORM_BYTES


def test_feeds_are_light_and_travel_as_they_are(get, watershed):
    for path in (f"/calendars/{watershed}.ics", f"/feeds/{watershed}.atom"):
        answer = get(path, headers={"Accept-Encoding": "gzip"})
        print(path, len(answer.content))
        assert 1000 < len(answer.content) <= FEED_BYTES
        assert not path.endswith(".ics") or "content-encoding" not in answer.headers


def test_pages_are_made_in_moments(get, watershed):
    """Medians are told, and held to half a second only: the machine may be busy."""
    reach = get(f"/v1/watersheds/{watershed}/reaches").json()["items"][0]["slug"]
    medians = {}
    for path in ("/", f"/w/{watershed}", f"/w/{watershed}/season", f"/w/{watershed}/reaches/{reach}", f"/report?w={watershed}"):
        took = [get(path).elapsed.total_seconds() for _ in range(21)]
        medians[path] = round(1000 * statistics.median(took), 1)
    print("median milliseconds", medians)
    assert max(medians.values()) < 500, medians


def test_the_first_page_is_there_soon(tmp_path):
    binary = os.environ.get("DEMO_BINARY")
    assert binary, "DEMO_BINARY must name the program"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [binary, "demo", "--listen", f"127.0.0.1:{port}", "--data", str(tmp_path / "demo")]
    began = time.monotonic()
    demo = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        while True:
            waited = time.monotonic() - began
            if demo.poll() is not None or waited > 30:
                pytest.fail(f"no page after {waited:.1f} s, exit code {demo.returncode}")
            try:
                if requests.get(f"http://127.0.0.1:{port}/w/river-ostrey", timeout=5).status_code == 200:
                    break
            except requests.ConnectionError:
                time.sleep(0.02)
        waited = time.monotonic() - began
        print(f"first page after {waited:.2f} s")
        assert waited < FIRST_PAGE_S
    finally:
        demo.send_signal(signal.SIGTERM)
        demo.wait(timeout=60)

"""A calendar read alike by five readers, and a subscription followed over a season.

The calendars under `calendars/` are written by the product (`tests/api/subscription.rs` holds them to it)."""

import datetime
import pathlib

import pytest
from calendar_readers import Shelf, Subscriber, by_calcurse, by_ical_js, by_icalendar, by_vobject, ordered

CALENDARS = pathlib.Path(__file__).parent / "calendars"
NAMES = ["first", "moved", "cancelled", "removed", "empty"]
YEAR = ("2026-01-01", 364)


def stored(name):
    return (CALENDARS / f"{name}.ics").read_bytes()


def shown(events):
    """What khal shows of events: titles with the first and the last day."""
    last = datetime.timedelta(days=1)
    return sorted((e["summary"], e["start"].isoformat(), (e["end"] - last).isoformat()) for e in events.values())


def listed(events):
    """The same with what each says, as calcurse keeps it."""
    last = datetime.timedelta(days=1)
    return sorted(
        (e["summary"], e["start"].isoformat(), (e["end"] - last).isoformat(), e["description"].removesuffix("\n"))
        for e in events.values()
    )


@pytest.fixture
def shelf():
    shelf = Shelf()
    yield shelf
    shelf.close()


@pytest.fixture
def subscriber(tmp_path, shelf):
    return Subscriber(tmp_path, shelf.address)


@pytest.mark.parametrize("name", NAMES)
def test_readers_agree_on_stored_calendars(name, tmp_path):
    ours = by_icalendar(stored(name))
    assert ours and by_vobject(stored(name)) == ours and by_ical_js(stored(name)) == ours
    assert by_calcurse(stored(name), tmp_path / "calcurse") == listed(ours)


def test_readers_agree_on_the_demo(get, watershed, shelf, subscriber, tmp_path):
    raw = get(f"/calendars/{watershed}.ics").content
    ours = by_icalendar(raw)
    assert len(ours) > 10
    assert by_vobject(raw) == ours and by_ical_js(raw) == ours
    assert by_calcurse(raw, tmp_path / "calcurse") == listed(ours)
    reach = get(f"/v1/watersheds/{watershed}/reaches").json()["items"][0]["slug"]
    shelf.bytes = get(f"/calendars/{watershed}.ics?reach={reach}").content
    subscriber.sync()
    here = by_icalendar(shelf.bytes)
    assert 4 < len(here) < len(ours) and here.keys() <= ours.keys()
    assert subscriber.read() == ordered(here.values())
    assert subscriber.seen("2025-12-01", 800) == shown(here)


def test_a_subscription_follows_moves_removals_and_the_end(shelf, subscriber):
    read = {}
    for name in NAMES:
        shelf.bytes = stored(name)
        subscriber.sync()
        read[name] = by_icalendar(shelf.bytes)
        assert subscriber.read() == ordered(read[name].values()), name
        assert subscriber.seen(*YEAR) == shown(read[name]), name
    first, moved, cancelled, removed, empty = (read[name] for name in NAMES)
    assert len(first) == 14, "a start and a peak of three taxa on two reaches, and two flights"
    assert moved.keys() == first.keys()
    changed = {uid for uid in first if moved[uid] != first[uid]}
    assert len(changed) == 6, "all of Ephemera danica"
    for uid in changed:
        assert moved[uid]["start"] - first[uid]["start"] == datetime.timedelta(days=3)
        assert moved[uid]["sequence"] == first[uid]["sequence"] + 1
    gone = {uid for uid, event in cancelled.items() if event["status"] == "CANCELLED"}
    assert len(gone) == 4 and all("Baetis rhodani" in cancelled[uid]["summary"] for uid in gone)
    assert all(cancelled[uid]["sequence"] == moved[uid]["sequence"] + 1 for uid in gone)
    assert removed.keys() == moved.keys() - gone
    assert [event["summary"] for event in empty.values()] == ["No emergence is forecast here yet"]


def test_a_subscription_notices_what_it_should(shelf, subscriber):
    """That the checks above can fail: a calendar without events is refused, and one whose event stands still differs."""
    shelf.bytes = stored("first")
    subscriber.sync()
    raw = stored("first")
    head = raw.split(b"BEGIN:VEVENT", 1)[0]
    shelf.bytes = head + b"END:VCALENDAR\r\n"
    with pytest.raises(AssertionError, match="emptied"):
        subscriber.sync()
    assert subscriber.read() == ordered(by_icalendar(raw).values()), "what was there stays"
    assert subscriber.read() != ordered(by_icalendar(stored("moved")).values())
    assert subscriber.seen(*YEAR) != shown(by_icalendar(stored("moved")))


def test_what_is_given_does_not_change_by_itself(get, watershed):
    for path in (f"/calendars/{watershed}.ics?kind=flight", f"/calendars/{watershed}.ics", f"/feeds/{watershed}.atom"):
        first, second = get(path), get(path)
        assert first.content == second.content and first.headers["etag"] == second.headers["etag"]
        again = get(path, headers={"If-None-Match": first.headers["etag"]})
        assert again.status_code == 304 and again.content == b""


def test_the_demo_tells_spinner_flights(get, watershed):
    flights = by_icalendar(get(f"/calendars/{watershed}.ics?kind=flight").content)
    assert flights and all(" spinners" in e["summary"] and "likeliest" in e["description"] for e in flights.values())

"""The calendar feed read by two independent libraries, and byte by byte (RFC 5545)."""

import icalendar
import pytest
import vobject


@pytest.fixture(scope="module")
def feed(get, watershed):
    answer = get(f"/calendars/{watershed}.ics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].lower().startswith("text/calendar")
    return answer


def line_faults(raw):
    """Faults of the bytes: section 3.1 of RFC 5545."""
    faults = []
    if not raw.endswith(b"\r\n"):
        faults.append("does not end with CRLF")
    if b"\n" in raw.replace(b"\r\n", b"") or b"\r" in raw.replace(b"\r\n", b""):
        faults.append("a bare CR or LF")
    for line in raw.split(b"\r\n"):
        if len(line) > 75:
            faults.append(f"{len(line)} octets: {line[:40]!r}")
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            faults.append(f"folded inside a character: {line[:40]!r}")
    return faults


def test_the_bytes_keep_the_rules(feed):
    assert line_faults(feed.content) == []


def test_the_byte_check_notices_faults():
    assert line_faults(b"A:1\nB:2\r\n") and line_faults(b"A:" + b"x" * 80 + b"\r\n") and line_faults(b"A:1")
    assert line_faults("A:\u00e9\r\n".encode()[:3] + b"\r\n \xa9\r\n")


def test_two_readers_agree(feed):
    ours = icalendar.Calendar.from_ical(feed.content)
    theirs = vobject.readOne(feed.content.decode("utf-8"))
    assert theirs.validate(raiseException=True)
    events = {str(e["uid"]): e for e in ours.walk("vevent")}
    others = {str(e.uid.value): e for e in theirs.vevent_list}
    assert events and len(events) == len(ours.walk("vevent")), "unique identifiers"
    assert events.keys() == others.keys()
    for uid, event in events.items():
        start, end = event["dtstart"].dt, event["dtend"].dt
        assert start < end, uid
        assert event["dtstart"].params.get("VALUE") == "DATE", uid
        assert event["dtstamp"].dt.tzinfo is not None, uid
        assert (others[uid].dtstart.value, others[uid].dtend.value) == (start, end), uid
        assert str(event["summary"]) == others[uid].summary.value, uid


def test_unchanged_feeds_are_identical_and_answer_304(get, watershed, feed):
    again = get(f"/calendars/{watershed}.ics")
    assert again.content == feed.content
    assert get(f"/calendars/{watershed}.ics", headers={"If-None-Match": feed.headers["etag"]}).status_code == 304


def test_an_unknown_river_is_a_problem_document(get):
    answer = get("/calendars/no-such-river.ics")
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("application/problem+json")

"""The Atom feed read by an independent library, and held to the rules of RFC 4287."""

from urllib.parse import urlsplit
from xml.etree import ElementTree

import feedparser
import pytest

ATOM = "{http://www.w3.org/2005/Atom}"


@pytest.fixture(scope="module")
def raw(get, watershed):
    answer = get(f"/feeds/{watershed}.atom")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/atom+xml; charset=utf-8"
    return answer.content


def faults(raw):
    """Rules of RFC 4287 that a feed breaks."""
    found = []
    root = ElementTree.fromstring(raw)
    if root.tag != ATOM + "feed":
        found.append("the root is not a feed")
    for part, place in [(root, "feed"), *((entry, "entry") for entry in root.iter(ATOM + "entry"))]:
        for name in ("id", "title", "updated"):
            values = part.findall(ATOM + name)
            if len(values) != 1 or not (values[0].text or "").strip():
                found.append(f"{place}: {name} must stand once (4.1.1, 4.1.2)")
        for value in part.findall(ATOM + "id"):
            if not urlsplit(value.text or "").scheme:
                found.append(f"{place}: id is not an absolute IRI (4.2.6)")
        for value in part.findall(ATOM + "updated"):
            if feedparser.datetimes._parse_date(value.text or "") is None or "T" not in (value.text or ""):
                found.append(f"{place}: updated is not a date construct (3.3)")
        links = [link for link in part.findall(ATOM + "link") if link.get("rel", "alternate") == "alternate"]
        kinds = [(link.get("type"), link.get("hreflang")) for link in links]
        if len(kinds) != len(set(kinds)):
            found.append(f"{place}: two alternate links of one kind (4.1.1)")
        if not all(urlsplit(link.get("href", "")).scheme for link in part.findall(ATOM + "link")):
            found.append(f"{place}: a link without an address (4.2.7)")
    if not root.findall(ATOM + "author"):
        found.append("feed: an author is needed (4.1.1)")
    ids = [value.text for entry in root.iter(ATOM + "entry") for value in entry.findall(ATOM + "id")]
    if len(ids) != len(set(ids)):
        found.append("entries share an id (4.1.1)")
    for entry in root.iter(ATOM + "entry"):
        if not entry.findall(ATOM + "content") and not entry.findall(ATOM + "summary"):
            found.append("entry: neither content nor summary (4.1.2)")
    return found


def test_the_rules_are_kept(raw):
    assert faults(raw) == []


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        (b"<updated>", b"<updated>x"),
        (b"<id>urn:uuid:", b"<id>"),
        (b"<author>", b"<contributor>"),
        (b'rel="alternate" type="text/html" href="http', b'rel="alternate" type="text/html" href="'),
        (b"<title>", b"<title/><title>"),
        (b'<content type="text">', b"<rights>"),
    ],
)
def test_a_broken_rule_is_noticed(raw, right, wrong):
    assert right in raw
    broken = raw.replace(right, wrong).replace(b"</author>", b"</contributor>" if b"<contributor>" in wrong else b"</author>")
    assert faults(broken.replace(b"</content>", b"</rights>" if wrong == b"<rights>" else b"</content>"))


def test_a_reader_reads_it(raw, url, watershed):
    feed = feedparser.parse(raw)
    assert not feed.bozo, feed.get("bozo_exception")
    assert feed.version == "atom10"
    assert feed.feed.title.endswith("emergence news") and feed.feed.author
    assert feed.feed.updated_parsed and feed.feed.link.endswith(f"/w/{watershed}")
    assert feed.entries, "on the demo's day some start is near"
    for entry in feed.entries:
        assert entry.updated_parsed and entry.link.startswith(url) and entry.content[0].value
        assert entry.tags[0].term in {"near", "moved", "notice"}
        assert entry.tags[0].term == "notice" or "not a safety statement" in entry.content[0].value
    updated = [entry.updated_parsed for entry in feed.entries]
    assert updated == sorted(updated, reverse=True), "newest first"

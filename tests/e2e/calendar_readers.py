"""Calendars as independent readers see them: icalendar, vobject, ical.js, calcurse, and khal behind vdirsyncer."""

import datetime
import http.server
import json
import os
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import threading

import icalendar
import vobject


def day(text):
    return datetime.date.fromisoformat(text)


def by_icalendar(raw):
    """uid -> what the event says."""
    calendar = icalendar.Calendar.from_ical(raw)
    return {
        str(e["uid"]): {
            "start": e["dtstart"].dt,
            "end": e["dtend"].dt,
            "summary": str(e["summary"]),
            "description": str(e["description"]),
            "status": str(e["status"]),
            "sequence": int(e["sequence"]),
        }
        for e in calendar.walk("vevent")
    }


def by_vobject(raw):
    calendar = vobject.readOne(raw.decode("utf-8"))
    assert calendar.validate(raiseException=True)
    return {
        str(e.uid.value): {
            "start": e.dtstart.value,
            "end": e.dtend.value,
            "summary": e.summary.value,
            "description": e.description.value,
            "status": e.status.value,
            "sequence": int(e.sequence.value),
        }
        for e in calendar.vevent_list
    }


def by_ical_js(raw):
    command = os.environ.get("CALENDAR_READER")
    assert command, "CALENDAR_READER must run tests/browser/read_calendar.mjs where ical.js is installed"
    done = subprocess.run(shlex.split(command), input=raw, capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr.decode()
    events = json.loads(done.stdout)
    assert all(e["all_day"] for e in events)
    return {
        e["uid"]: {
            "start": day(e["start"]),
            "end": day(e["end"]),
            "summary": e["summary"],
            "description": e["description"],
            "status": e["status"],
            "sequence": e["sequence"],
        }
        for e in events
    }


# A whole day of calcurse's own file, or days that follow one another, with the name of its note.
CALCURSE = re.compile(r"(\d\d)/(\d\d)/(\d{4}) \[1\](?: \{1D -> (\d\d)/(\d\d)/(\d{4})\})? >([0-9a-f]{40}) (.*)")


def by_calcurse(raw, folder: pathlib.Path):
    """(title, first day, last day, description) of all events, sorted. calcurse keeps no identifiers."""
    program = shutil.which("calcurse")
    assert program, "calcurse is not installed (.ci/run installs it with apt)"
    folder.mkdir(parents=True)
    (folder / "feed.ics").write_bytes(raw)
    environment = {"HOME": str(folder), "LANG": "C.UTF-8", "PATH": os.environ["PATH"]}
    command = [program, "-q", "-D", str(folder / "data"), "-i", str(folder / "feed.ics")]
    done = subprocess.run(command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False)
    # What it cannot read it leaves out and says so.
    assert done.returncode == 0 and not done.stderr, (done.stdout.decode(), done.stderr.decode())
    found = []
    for line in (folder / "data" / "apts").read_text("utf-8").splitlines():
        read = CALCURSE.fullmatch(line)
        assert read, line
        month, date, year, to_month, to_date, to_year, note, title = read.groups()
        last = (to_year, to_month, to_date) if to_year else (year, month, date)
        text = (folder / "data" / "notes" / note).read_text("utf-8")
        # It tells below what it made of days that follow one another.
        text = text.split("\n-- \nImport: ")[0].removesuffix("\n")
        found.append((title, f"{year}-{month}-{date}", "-".join(last), text))
    return sorted(found)


def ordered(events):
    """Events by summary and first day."""
    return sorted(events, key=lambda event: (event["summary"], event["start"], event["status"]))


class Subscriber:
    """A person with vdirsyncer and khal who subscribes to one address."""

    def __init__(self, folder: pathlib.Path, address: str):
        self.folder = folder
        self.items = folder / "items" / "feed"
        self.items.mkdir(parents=True)
        (folder / "status").mkdir()
        (folder / "sync.conf").write_text(
            f'[general]\nstatus_path = "{folder}/status/"\n'
            '[pair feed]\na = "here"\nb = "there"\ncollections = null\nconflict_resolution = "b wins"\n'
            f'[storage here]\ntype = "filesystem"\npath = "{self.items}"\nfileext = ".ics"\n'
            f'[storage there]\ntype = "http"\nurl = "{address}"\n'
        )
        (folder / "khal.conf").write_text(
            f"[calendars]\n[[feed]]\npath = {self.items}\nreadonly = True\n"
            "[locale]\ntimeformat = %H:%M\ndateformat = %Y-%m-%d\nlongdateformat = %Y-%m-%d\n"
            "datetimeformat = %Y-%m-%d %H:%M\nlongdatetimeformat = %Y-%m-%d %H:%M\n"
            "local_timezone = Europe/London\ndefault_timezone = Europe/London\n"
            f"[sqlite]\npath = {folder}/khal.db\n"
        )
        self.environment = {
            "PATH": os.environ["PATH"],
            "HOME": str(folder),
            "LANG": "C.UTF-8",
            "VDIRSYNCER_CONFIG": str(folder / "sync.conf"),
        }
        self.run("vdirsyncer", "discover", "feed")

    def run(self, name, *arguments):
        """Runs a program of this Python's own environment; its standard output."""
        program = pathlib.Path(sys.executable).parent / name
        command = [str(program), *arguments]
        done = subprocess.run(
            command, env=self.environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False
        )
        assert done.returncode == 0, (command, done.stdout.decode(), done.stderr.decode())
        return done.stdout.decode()

    def sync(self):
        self.run("vdirsyncer", "sync")

    def read(self):
        """The synced events, as icalendar reads them, in the order of `ordered`. vdirsyncer gives events of its http
        storage identifiers of its own, so ours are compared where they are served."""
        found = [by_icalendar(path.read_bytes()) for path in self.items.glob("*.ics")]
        return ordered(event for events in found for event in events.values())

    def seen(self, first, days):
        """(title, first day, last day) of all events that khal lists, each once."""
        lines = self.run(
            "khal", "-c", str(self.folder / "khal.conf"), "list", "--once",
            "--format", "{title}|{start-date}|{end-date}", first, f"{days}d",
        ).splitlines()  # fmt: skip
        return sorted(tuple(line.rsplit("|", 2)) for line in lines if line.count("|") >= 2)


class Shelf:
    """A small server with one calendar, which can be exchanged."""

    def __init__(self):
        self.bytes = b""
        shelf = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self):
                self.send_response(200)
                self.send_header("Content-Type", "text/calendar; charset=utf-8")
                self.send_header("Content-Length", str(len(shelf.bytes)))
                self.end_headers()
                self.wfile.write(shelf.bytes)

            def log_message(self, *_):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.address = f"http://127.0.0.1:{self.server.server_port}/feed.ics"
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()

    def close(self):
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()

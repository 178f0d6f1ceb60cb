"""The calendar of the demo, read by three parsers that know nothing of each other: icalendar and vobject
from PyPI and ical.js from npm."""

import datetime
import json
import os
import pathlib
import subprocess
import zoneinfo

import icalendar
import pytest
import vobject

from program import program

TOOLS = pathlib.Path(__file__).resolve().parents[1] / ".tools" / "calendar"
ICAL_JS = "ical.js@2.2.1"

# What ical.js makes of a calendar: a list of events.
SCRIPT = """
import ICAL from "ical.js";
import { readFileSync } from "node:fs";
const calendar = new ICAL.Component(ICAL.parse(readFileSync(0, "utf8")));
for (const zone of calendar.getAllSubcomponents("vtimezone")) ICAL.TimezoneService.register(zone);
const events = calendar.getAllSubcomponents("vevent").map((component) => {
  const event = new ICAL.Event(component);
  return {
    uid: event.uid,
    summary: event.summary,
    sequence: event.sequence,
    status: component.getFirstPropertyValue("status"),
    date: event.startDate.isDate,
    start: event.startDate.isDate ? event.startDate.toString() : event.startDate.toJSDate().toISOString(),
    seconds: event.duration.toSeconds(),
    description: event.description,
    alarms: component.getAllSubcomponents("valarm").map((alarm) => alarm.getFirstPropertyValue("trigger").toString()),
  };
});
console.log(JSON.stringify(events));
"""


def run(folder, *arguments, now="2027-02-15 10:00"):
    environment = {**os.environ, "PORISM_NOW": now, "TZ": "Europe/Berlin"}
    return subprocess.run(
        [program(), *arguments], cwd=folder, env=environment, capture_output=True, check=False
    )


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("notes")
    assert run(folder, "demo").returncode == 0
    return folder / "porism-demo"


@pytest.fixture(scope="module")
def text(demo):
    out = run(demo, "calendar")
    assert out.returncode == 0, out.stderr
    return out.stdout


@pytest.fixture(scope="module")
def ical_js():
    """A function from a calendar to what ical.js reads in it."""
    if not (TOOLS / "node_modules" / "ical.js").exists():
        TOOLS.mkdir(parents=True, exist_ok=True)
        npm = ["npm", "install", "--prefix", TOOLS, "--ignore-scripts", "--no-audit", "--no-fund"]
        subprocess.run([*npm, "--silent", ICAL_JS], check=True)
    script = TOOLS / "read.mjs"
    script.write_text(SCRIPT)

    def read(text):
        done = subprocess.run(["node", script], input=text, capture_output=True, check=False)
        assert done.returncode == 0, done.stderr.decode()
        return {event["uid"]: event for event in json.loads(done.stdout)}

    return read


def by_icalendar(text):
    calendar = icalendar.Calendar.from_ical(text)
    assert not calendar.errors
    events = {}
    for event in calendar.walk("VEVENT"):
        assert not event.errors, event.errors
        events[str(event["UID"])] = event
    return events


def by_vobject(text):
    events = {}
    for calendar in vobject.readComponents(text.decode()):
        calendar.validate(raiseException=True)
        for event in calendar.contents["vevent"]:
            events[event.uid.value] = event
    return events


def instant(moment):
    """Both kinds of start in one form: a date, or an instant in UTC."""
    if isinstance(moment, datetime.datetime):
        return moment.astimezone(datetime.timezone.utc)
    return moment


def test_three_parsers_read_the_same(text, ical_js):
    first, second, third = by_icalendar(text), by_vobject(text), ical_js(text)
    assert first.keys() == second.keys() == third.keys()
    assert sum(uid.startswith("exam-") for uid in first) == 7
    for kind in ("window-", "plan-", "mock-"):
        assert any(uid.startswith(kind) for uid in first), kind
    for uid, event in first.items():
        start, end = event["DTSTART"].dt, event.get("DTEND")
        other, script = second[uid], third[uid]
        assert str(event["SUMMARY"]) == other.summary.value == script["summary"]
        assert str(event["DESCRIPTION"]) == other.description.value == script["description"]
        assert instant(start) == instant(other.dtstart.value)
        if isinstance(start, datetime.datetime):
            said = datetime.datetime.fromisoformat(script["start"].replace("Z", "+00:00"))
            assert said == instant(start) and not script["date"]
            assert start.tzinfo is not None
        else:
            assert script["start"] == start.isoformat() and script["date"]
            # RFC 5545, section 3.6.1: the end of a day is the day after it.
            assert end.dt == start + datetime.timedelta(days=1)
            assert script["seconds"] == 24 * 60 * 60
        if end is not None:
            assert instant(end.dt) == instant(other.dtend.value)
        alarms = [alarm["TRIGGER"].dt for alarm in event.walk("VALARM")]
        exam = uid.startswith("exam-")
        assert alarms == [datetime.timedelta(days=-d) for d in (7, 3)] * exam
        assert len(other.contents.get("valarm", [])) == len(script["alarms"]) == len(alarms)


def test_an_exam_is_at_its_time_wherever_it_is_read(text):
    events = by_icalendar(text).values()
    midterm = next(e for e in events if str(e["SUMMARY"]).startswith("First midterm of"))
    berlin = zoneinfo.ZoneInfo("Europe/Berlin")
    assert instant(midterm["DTSTART"].dt) == instant(
        datetime.datetime(2027, 2, 20, 10, 0, tzinfo=berlin)
    )
    final = next(e for e in events if str(e["SUMMARY"]).startswith("Final of"))
    # In summer time.
    assert instant(final["DTSTART"].dt) == instant(
        datetime.datetime(2027, 4, 19, 9, 0, tzinfo=berlin)
    )


def test_the_lines_are_as_the_standard_wants_them(text):
    """RFC 5545, section 3.1: CR LF behind each line, and no line over 75 octets."""
    lines = text.split(b"\r\n")
    assert lines[-1] == b""
    assert all(len(line) <= 75 and b"\n" not in line and b"\r" not in line for line in lines)
    for line in lines:
        line.decode()


def test_same_notes_same_bytes_and_a_new_number_for_what_changed(demo, text, ical_js):
    assert run(demo, "calendar").stdout == text
    target = demo / "exams.ics"
    assert run(demo, "calendar", "--to", target).returncode == 0
    assert target.read_bytes() == text
    assert run(demo, "calendar", "--to", target).returncode == 0
    assert target.read_bytes() == text

    course = demo / "linear-algebra" / "course.porism"
    notes = course.read_text()
    try:
        course.write_text(notes.replace("2027-03-30 14:00", "2027-03-31 16:00"))
        assert run(demo, "calendar", "--to", target).returncode == 0
    finally:
        course.write_text(notes)
    before, after = ical_js(text), ical_js(target.read_bytes())
    moved = [uid for uid in before if uid.startswith("exam-") and before[uid] != after[uid]]
    assert len(moved) == 1
    [uid] = moved
    assert after[uid]["sequence"] == before[uid]["sequence"] + 1
    assert after[uid]["summary"] == before[uid]["summary"]
    assert after[uid]["start"] != before[uid]["start"]


def test_another_file_is_not_written_over(demo, tmp_path):
    other = tmp_path / "shopping.ics"
    other.write_text("bread")
    out = run(demo, "calendar", "--to", other)
    assert out.returncode == 2
    assert b"left as it is" in out.stderr
    assert other.read_text() == "bread"

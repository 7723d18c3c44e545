"""The calendar as RFC 5545 has it, read back by an independent library."""

from __future__ import annotations

from datetime import date

import icalendar

from wearplan.report.calendar import Day, calendar

DAYS = [
    Day(
        date(2026, 11, 28), "hurry 6 disc-17", "hurry 6 disc-17 by 2026-11-28; price 1,200, back\\slash\nand more", "a"
    ),
    Day(date(2026, 12, 31), "Ü" * 60, "", "b"),
]


def test_read_back_by_another_library():
    text = calendar(DAYS, name="north, drive; 1", stamp=date(2026, 11, 26))
    read = icalendar.Calendar.from_ical(text.encode())
    events = list(read.walk("VEVENT"))
    assert [event.decoded("DTSTART") for event in events] == [day.on for day in DAYS]
    assert events[1].decoded("DTEND") == date(2027, 1, 1)
    assert [str(event["SUMMARY"]) for event in events] == [day.title for day in DAYS]
    assert str(events[0]["DESCRIPTION"]) == DAYS[0].text


def test_lines_are_folded_at_75_octets():
    text = calendar(DAYS, name="x" * 200, stamp=date(2026, 11, 26))
    assert text.endswith("END:VCALENDAR\r\n")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))


def test_an_event_keeps_its_mark_when_its_day_moves():
    def uid(day):
        return next(line for line in calendar([day], name="n", stamp=day.on).splitlines() if line.startswith("UID"))

    assert uid(DAYS[0]) == uid(Day(date(2027, 1, 5), "moved", "", "a"))
    assert uid(DAYS[0]) != uid(DAYS[1])

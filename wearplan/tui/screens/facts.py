"""Short facts written from the app, dialog by dialog: taking a record back, an event, a sensor's word.

Each passes the gate first: what the folder contradicts is written only when each finding is accepted with a reason.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from wearplan.gate import (
    Finding,
    acceptance,
    acceptance_words,
    contradicted,
    judge,
    judge_word,
    sensor_reading,
    undone,
)  # fmt: skip
from wearplan.report.words import chainage_text, listing, plain
from wearplan.site.parse import typed
from wearplan.site.records import Event, Inspection, Position, SensorWord, Site
from wearplan.site.records.clock import placed
from wearplan.tui.screens.acceptance import accept_each
from wearplan.tui.widgets.dialogs import Ask, Choose, Confirm

if TYPE_CHECKING:
    from wearplan.tui.host import Host


async def withdraw(app: Host, record: Inspection) -> bool:
    """Take a record back by a further one with a reason; whether it was written."""
    from wearplan.site import undo_correction

    site = app.snapshot.site
    assert site is not None
    then = f"{record.corrects} holds again" if record.corrects else "nothing of that stop holds then"
    question = f"Why is {record.id} (ring {record.ring}) taken back? It stays in the folder; {then}."
    reason = await app.push_screen_wait(Ask(question, hint="the reason is kept", check=_something))
    if reason is None:
        return False
    again = undone(site, record.id)
    findings = judge(site, again, now=site.now()) if again is not None else ()
    passed, words = await _past(app, findings)
    if not passed:
        return False
    written = await _written(
        app, lambda: undo_correction(app.snapshot.folder, record.id, reason, now=site.now(), note=words)
    )
    return written is not None


async def write_event(app: Host) -> bool:
    """An event of the drive; afterwards which places it asks to be looked at."""
    from wearplan.site import append_event

    site = app.snapshot.site
    assert site is not None
    hint = "boulder, steel, pile, metal in muck, torque jump ..."
    kind = await app.push_screen_wait(Ask("What happened? In the site's own words.", hint=hint, check=_something))
    where = await _where_and_when(app, site) if kind is not None else None
    if kind is None or where is None:
        return False
    note = await app.push_screen_wait(Ask("Anything to note? Enter leaves it out.")) or None
    event = Event(kind=kind.strip(), note=note, **where)
    passed, words = await _past(app, judge_word(site, event, now=site.now()))
    if not passed:
        return False
    event = replace(event, note=". ".join(part for part in (note, words) if part) or None)
    line = f"{event.kind} at {_place(event.ring, event.chainage_m)}{_time(event.at)}"
    lines = [line, *([event.note] if event.note else [])]
    if not await app.push_screen_wait(Confirm("This event will be written", lines, yes="write it", no="leave it")):
        return False
    if await _written(app, lambda: append_event(app.snapshot.folder, event)) is None:
        return False
    if app.snapshot.fit is not None:
        from wearplan.wear import look_at

        look = await asyncio.to_thread(look_at, app.snapshot.fit, event.driven_m)
        app.notify(f"Look at: {listing([str(number) for number in look], 24)}.", timeout=15, markup=False)
    return True


async def write_word(app: Host) -> bool:
    """What a wear sensor said, or that its line was proved live."""
    from wearplan.site import append_event, append_sensor_word

    site = app.snapshot.site
    assert site is not None
    fitted = [place for place in site.wheel.positions if place.sensor_mm]
    if not fitted:
        app.notify("No place has a sensor by wheel.toml (sensor_mm).", markup=False)
        return False
    chosen = await app.push_screen_wait(Choose("Which sensor?", [_sensor(place) for place in fitted]))
    if chosen is None:
        return False
    number = int(chosen)
    said = Ask("What did it say?", hint="reported 12.0, or line proved", check=lambda one: _no_word(site, number, one))
    text = await app.push_screen_wait(said)
    where = await _where_and_when(app, site) if text is not None else None
    if text is None or where is None:
        return False
    word = SensorWord(position=number, reported_mm=sensor_reading(site, number, text), **where)
    passed, words = await _past(app, judge_word(site, word, now=site.now()))
    if not passed:
        return False
    line = f"place {number}: {text.strip()}, at {_place(word.ring, word.chainage_m)}{_time(word.at)}"
    lines = [line, *([words] if words else [])]
    if not await app.push_screen_wait(Confirm("This word will be written", lines, yes="write it", no="leave it")):
        return False

    def write() -> Any:
        if words:
            append_event(app.snapshot.folder, acceptance(site, words, word, now=site.now()))
        return append_sensor_word(app.snapshot.folder, word)

    return await _written(app, write) is not None


async def _where_and_when(app: Host, site: Site) -> dict[str, Any] | None:
    """Ring, place and time; the present ring stands there to be taken."""
    ends = {row.ring: row for row in site.rings if row.end_m is not None and not row.damaged}
    last = str(max(ends)) if ends else ""
    ring = await app.push_screen_wait(
        Ask("At which ring? Enter takes the present one.", value=last, check=lambda text: _no_ring(ends, text))
    )
    if ring is None:
        return None
    row = ends[int(ring)]
    at_face = row.ring == max(ends)
    question = "When? Empty: now." if at_face else "When? Empty where it is not known."
    hint = "22:10, yesterday 22:10, 20.11.2026 06:10"
    when = await app.push_screen_wait(Ask(question, hint=hint, check=lambda text: _no_time(site, text)))
    if when is None:
        return None
    at = _moment(site, when) if when.strip() else (site.now().replace(microsecond=0) if at_face else None)
    return {"ring": row.ring, "chainage_m": row.end_chainage_m, "driven_m": row.end_m, "at": at}


async def _past(app: Host, findings: Sequence[Finding]) -> tuple[bool, str | None]:
    """Whether the gate lets it pass, and the line the record keeps of what was accepted."""
    against = contradicted(findings)
    if not against:
        return True, None
    said = await accept_each(app, against, "")
    if said is None:
        return False, None
    who, why = said
    return True, " ".join(acceptance_words([each.name], who=who, why=why[each.line]) for each in against)


async def _written(app: Host, write: Callable[[], Any]) -> Any:
    """What writing gave; None, and said, where it was refused."""
    from wearplan.site import NotWritten

    try:
        done = await asyncio.to_thread(write)
    except NotWritten as refusal:
        app.notify(plain(str(refusal)), severity="error", timeout=15, markup=False)
        return None
    app.notify(f"Written: {getattr(done, 'path', done)}", timeout=10, markup=False)
    app.rework("read")
    return done


def _moment(site: Site, text: str) -> datetime:
    return placed(typed.moment(text, site.now()), site.zone)


def _something(text: str) -> str | None:
    return None if text.strip() else "Say it in a word or two, or Esc to go back."


def _no_ring(ends: dict[int, Any], text: str) -> str | None:
    if text.strip().isdigit() and int(text) in ends:
        return None
    return f"The ring log has no such ring; it goes to {max(ends)}." if ends else "There is no ring log yet."


def _no_time(site: Site, text: str) -> str | None:
    try:
        if text.strip():
            _moment(site, text)
    except (ValueError, OverflowError) as error:
        return str(error)
    return None


def _no_word(site: Site, number: int, text: str) -> str | None:
    try:
        sensor_reading(site, number, text)
    except ValueError as error:
        return str(error)
    return None


def _sensor(place: Position) -> tuple[str, str]:
    return f"{place.number}", f"place {place.number}, at {listing([f'{mm:g}' for mm in place.sensor_mm], 6)} mm"


def _place(ring: int | None, chainage_m: float) -> str:
    return f"ring {ring}, {chainage_text(chainage_m)}" if ring is not None else chainage_text(chainage_m)


def _time(at: datetime | None) -> str:
    return f", {at:%Y-%m-%d %H:%M}" if at is not None else ", no time known"

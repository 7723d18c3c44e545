"""One kept forecast: everything it rested on, small enough to keep every week."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from wearplan.demand.dates import last_logged_day
from wearplan.demand.frame import DriveUse
from wearplan.demand.part_worn import all_again
from wearplan.demand.records import Demand
from wearplan.site.records import Borrow, OnOrder, Pace, PartWorn, Site, Stock, Stores

FOLDER = "forecasts"
FORMAT = 1
DRAWS = 400
"""Draws kept of the use: enough to play a forecast again, few enough to keep."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A forecast of one drive as it was made on a day."""

    made_on: date
    drive: str
    inputs_sha256: str
    face_m: float
    logged: date | None
    seed: int
    pace: float
    stores: Stores
    types: Mapping[str, Mapping[str, Any]]
    """Tool type -> the keys of `TYPE_KEYS`."""
    site_pace: Pace
    stops: tuple[SimpleNamespace, ...]
    """With ``driven_m``, ``hours``, ``chainage_m``, ``window``, ``mode``."""
    use: Mapping[str, np.ndarray]
    """``counts:TYPE``, ``sound:TYPE``, ``damaged:TYPE`` (D, S) and ``pace`` (D,)."""
    told: Mapping[str, Any]
    """What was said: use to the end by type, what to do, chances and cost."""

    def drive_use(self, site: Site) -> DriveUse:
        """The drive as it was foretold then, on the site of today but for what is kept."""
        return DriveUse(
            site=self.as_site(site), plan=cast(Any, SimpleNamespace(stops=self.stops)), use=cast(Any, self._draws()),
            face_m=self.face_m, logged=self.logged,
        )  # fmt: skip

    def as_site(self, site: Site) -> Site:
        """Today's site with the store, prices and pace kept."""
        return replace(site, stores=self.stores, pace=self.site_pace, wheel=with_types(site, self.types).wheel)

    def _draws(self) -> SimpleNamespace:
        codes = [name.split(":", 1)[1] for name in self.use if name.startswith("counts:")]
        at = tuple(stop.driven_m for stop in self.stops)
        uses = [
            SimpleNamespace(driven_m=at[k], stop=k, tool_type=code, counts=self.use[f"counts:{code}"][:, k])
            for code in codes
            for k in range(len(at))
        ]
        return SimpleNamespace(
            draws=len(self.use["pace"]), stops_m=at, uses=tuple(uses), pace_factor=self.use["pace"],
            removed_sound={code: self.use[f"sound:{code}"] for code in codes},
            damaged={code: self.use[f"damaged:{code}"] for code in codes},
            changes=np.zeros((len(self.use["pace"]), len(at), 0), dtype=bool), places=(), tool_types=(),
        )  # fmt: skip


TYPE_KEYS = ("price", "lead_time_days", "rebuild_price", "rebuildable_share", "rebuild_days")


def keep(drive: DriveUse, demand: Demand, *, seed: int = 1, pace: float = 1.0) -> Kept:
    """What a forecast rested on and said."""
    site, use = drive.site, drive.use
    (again,) = all_again([(site, drive.plan, use)], _shelf(site))
    count = min(use.draws, DRAWS)
    stops = tuple(
        SimpleNamespace(
            driven_m=float(at), hours=float(stop.hours), chainage_m=float(stop.chainage_m), window=stop.window,
            mode=getattr(stop, "mode", None), changes=(),
        )
        for at, stop in zip(use.stops_m, drive.plan.stops, strict=False)
    )  # fmt: skip
    tables: dict[str, np.ndarray] = {"pace": np.round(use.pace_factor[:count], 4)}
    for kind in site.wheel.tool_types:
        code = kind.code
        counts = np.zeros((count, len(stops)), dtype=np.int64)
        for entry in use.uses:
            if entry.tool_type == code:
                counts[:, entry.stop] += entry.counts[:count]
        sound = np.asarray(use.removed_sound.get(code, np.zeros_like(counts)))[:count].copy()
        for fit in again:
            if fit.tool_type == code:
                counts[:, fit.stop] -= fit.fitted[:count]
                if fit.from_place:
                    sound[:, fit.stop] -= fit.fitted[:count]
        tables[f"counts:{code}"] = counts
        tables[f"sound:{code}"] = np.maximum(sound, 0)
        tables[f"damaged:{code}"] = np.asarray(use.damaged.get(code, np.zeros_like(counts)))[:count]
    return Kept(
        made_on=demand.as_of, drive=site.name, inputs_sha256=site.inputs_sha256, face_m=drive.face_m,
        logged=drive.logged or last_logged_day(site), seed=seed, pace=pace, stores=site.stores or Stores(),
        types={k.code: {key: getattr(k, key) for key in TYPE_KEYS} for k in site.wheel.tool_types},
        site_pace=site.pace, stops=stops, use=tables, told=_told(demand),
    )  # fmt: skip


def with_types(site: Site, types: Mapping[str, Mapping[str, Any]]) -> Site:
    """The site with prices and lead times of another day."""
    kinds = tuple(replace(kind, **types.get(kind.code, {})) for kind in site.wheel.tool_types)
    return replace(site, wheel=replace(site.wheel, tool_types=kinds))


def _shelf(site: Site) -> dict[str, int]:
    return {row.tool_type: len(row.part_worn) for row in site.stores.stock} if site.stores else {}


def _told(demand: Demand) -> dict[str, Any]:
    return {
        "use": {code: [quantiles.p05, quantiles.p50, quantiles.p95] for code, quantiles in demand.totals},
        "actions": [action.text for action in demand.actions],
        "short": {entry.tool_type: round(entry.short, 4) for entry in demand.basis},
        "cost": {entry.tool_type: round(entry.cost) for entry in demand.basis},
        "service": demand.service,
    }


def to_json(kept: Kept) -> dict[str, Any]:
    """As plain data; equal forecasts give equal text."""
    packed = {}
    for name, table in sorted(kept.use.items()):
        whole = table.dtype.kind in "iu"
        small = table.astype(np.uint16 if whole else np.float32)
        packed[name] = [list(table.shape), base64.b64encode(zlib.compress(small.tobytes(), 9)).decode("ascii")]
    stores = {field.name: _plain(getattr(kept.stores, field.name)) for field in fields(kept.stores)}
    return {
        "format": FORMAT,
        "answer": "kept demand",
        "made_on": kept.made_on.isoformat(),
        "drive": kept.drive,
        "inputs_sha256": kept.inputs_sha256,
        "face_m": kept.face_m,
        "logged": kept.logged.isoformat() if kept.logged else None,
        "seed": kept.seed,
        "pace": kept.pace,
        "stores": stores,
        "types": {code: dict(keys) for code, keys in kept.types.items()},
        "site_pace": _plain(kept.site_pace),
        "stops": [[s.driven_m, s.hours, s.chainage_m, s.window, s.mode] for s in kept.stops],
        "told": kept.told,
        "use": packed,
    }


def from_json(found: Mapping[str, Any]) -> Kept:
    """Read back; `ValueError` where it is not a kept forecast."""
    if found.get("answer") != "kept demand" or found.get("format") != FORMAT:
        raise ValueError("not a forecast kept by `wearplan demand --keep`")
    try:
        use = {}
        for name, (shape, text) in found["use"].items():
            kind = np.float32 if name == "pace" else np.uint16
            flat = np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype=kind)
            use[str(name)] = flat.reshape(shape).astype(float if name == "pace" else np.int64)
        pace = dict(found["site_pace"])
        pace["holidays"] = tuple(date.fromisoformat(day) for day in pace.get("holidays", ()))
        return Kept(
            made_on=date.fromisoformat(found["made_on"]), drive=str(found["drive"]),
            inputs_sha256=str(found["inputs_sha256"]), face_m=float(found["face_m"]),
            logged=date.fromisoformat(found["logged"]) if found["logged"] else None, seed=int(found["seed"]),
            pace=float(found["pace"]), stores=_stores(found["stores"]), types=found["types"],
            site_pace=Pace(**{f.name: pace[f.name] for f in fields(Pace) if f.name in pace}),
            stops=tuple(
                SimpleNamespace(driven_m=m, hours=h, chainage_m=c, window=w, mode=mode, changes=())
                for m, h, c, w, mode in found["stops"]
            ),
            use=use, told=found["told"],
        )  # fmt: skip
    except (KeyError, TypeError, AttributeError, zlib.error) as error:
        raise ValueError(f"damaged: {error}") from error


def write(kept: Kept, folder: Path) -> Path:
    """Keep a forecast in the folder of its drive; the same forecast kept twice is one file."""
    from wearplan.site.write.durable import create_once, make_folder, within

    text = json.dumps(to_json(kept), sort_keys=True, indent=1, ensure_ascii=False) + "\n"
    mark = hashlib.sha256(text.encode()).hexdigest()[:8]
    path = within(folder, FOLDER, f"{kept.made_on.isoformat()}-{mark}.json")
    make_folder(path.parent)
    create_once(path, text.encode())
    return path


def read(path: Path) -> Kept:
    """Read one file; `ValueError` or `OSError` where it cannot be used."""
    found = json.loads(path.read_text(encoding="utf-8"))
    if isinstance(found, dict) and found.get("answer") == "demand" and isinstance(found.get("kept"), dict):
        found = found["kept"]
    if not isinstance(found, dict):
        raise ValueError("not a forecast kept by `wearplan demand --keep`")
    return from_json(found)


def kept_in(folder: Path) -> tuple[Kept, ...]:
    """All forecasts kept in a folder that can be read, oldest first."""
    out = []
    for path in sorted((folder / FOLDER).glob("*.json")) if (folder / FOLDER).is_dir() else ():
        try:
            out.append(read(path))
        except (OSError, ValueError):
            continue
    return tuple(sorted(out, key=lambda kept: (kept.made_on, kept.face_m)))


def last_before(kepts: Sequence[Kept], upto: date | None = None) -> Kept | None:
    """The last one made up to a day; the last of all without one."""
    return next((kept for kept in reversed(kepts) if upto is None or kept.made_on <= upto), None)


def _stores(found: Mapping[str, Any]) -> Stores:
    names = {field.name for field in fields(Stores)}
    values = {key: value for key, value in found.items() if key in names and key != "stock"}
    return Stores(**values, stock=tuple(_stock(row) for row in found.get("stock", ())))


def _stock(row: Mapping[str, Any]) -> Stock:
    names = {field.name for field in fields(Stock)} - {"origin"}
    values = {key: value for key, value in row.items() if key in names}
    values["part_worn"] = tuple(PartWorn(**worn) for worn in row.get("part_worn", ()))
    values["on_order"] = tuple(
        OnOrder(**{**order, "due": date.fromisoformat(order["due"])}) for order in row.get("on_order", ())
    )
    values["borrow"] = tuple(Borrow(**offer) for offer in row.get("borrow", ()))
    return Stock(**values)


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.name != "origin"}
    if isinstance(value, (tuple, list)):
        return [_plain(each) for each in value]
    return value.isoformat() if isinstance(value, date) else value

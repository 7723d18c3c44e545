"""The tables people read, built from results."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.preview import doubted_lines
from wearplan.report.tables.table import Band, Column, Table
from wearplan.report.words import chainage_text, listing

if TYPE_CHECKING:
    from wearplan.site.records import Fault, Site
    from wearplan.wear import Backtest, Fit, Outlook, Quantiles, ToolOutlook


def band(quantiles: Quantiles | None) -> Band | None:
    """Median and 90 % range of a quantile object."""
    return None if quantiles is None else Band(quantiles.p05, quantiles.p50, quantiles.p95)


def chainage_band(quantiles: Quantiles) -> str:
    """A band of chainages as text; a quantile beyond the drive shows as three dots."""
    p05, p50, p95 = quantiles.p05, quantiles.p50, quantiles.p95
    if p05 is None and p95 is None:
        return "beyond the drive"
    ends = [("…" if value is None else chainage_text(value)) for value in (p50, p05, p95)]
    return f"{ends[0]} ({ends[1]} – {ends[2]})"


def faults_table(faults: tuple[Fault, ...]) -> Table:
    """Every fault with its place."""
    return Table(
        title="Faults of the folder",
        columns=(
            Column(key="place", head="place"),
            Column(key="key", head="key"),
            Column(key="what", head="what, and what to do", wrap=True),
            Column(key="forbids", head="forbids", spare=1),
        ),
        rows=tuple(
            (f"{fault.file}:{fault.line}", fault.place, fault.what, listing(fault.forbids) or "nothing")
            for fault in faults
        ),
    )


def rates_tables(fit: Fit) -> list[Table]:
    """Rates by kind and unit, zone factors, damage, flags, damage between layers."""
    reference = (
        "Bands: the middle value, then the range that holds the true one nine times out of ten. mm per 1,000 m³ "
        f"of the unit and m³ per tool are for a tool at {fit.reference_radius_mm:.0f} mm radius and "
        f"{fit.reference_penetration_mm:.0f} mm per turn."
    )
    rates = Table(
        title="Wear rates: what each unit of ground costs each kind of tool",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="unit", head="unit"),
            Column(key="mm_per_km", head="mm per km", form="sig"),
            Column(key="mm_per_1000_m3", head="mm per 1,000 m³", form="sig", spare=2),
            Column(key="m3_per_tool", head="m³ per tool", form="sig", spare=3),
            Column(key="path_km", head="km cut", form="sig", spare=4),
            Column(key="readings", head="readings", form="int", spare=5),
            Column(key="basis", head="basis", wrap=True),
        ),
        rows=tuple(
            (
                rate.kind,
                rate.unit,
                band(rate.mm_per_km),
                band(rate.mm_per_1000_m3),
                band(rate.m3_per_tool),
                rate.path_km,
                rate.readings,
                rate.basis,
            )
            for rate in fit.rates
        ),
        notes=(reference, *fit.remarks),
    )
    zones = Table(
        title="Zone factors (a face tool is 1)",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="zone", head="zone"),
            Column(key="factor", head="factor", form="fixed2"),
        ),
        rows=tuple((zone.kind, zone.zone, band(zone.factor)) for zone in fit.zones),
    )
    damage = Table(
        title="Damage apart from wear, per 1,000 km of path",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="unit", head="unit"),
            Column(key="zone", head="zone"),
            Column(key="per_1000_km", head="per 1,000 km", form="fixed3"),
            Column(key="events", head="seen", form="fixed2"),
            Column(key="exposure_km", head="km cut", form="sig", spare=1),
        ),
        rows=tuple(
            (rate.kind, rate.unit, rate.zone, band(rate.per_1000_km), rate.events, rate.exposure_km)
            for rate in fit.damage
        ),
        notes=("'seen' can be a fraction: a fault that began in mixed ground is shared among the units cut.",),
    )
    flagged = Table(
        title="Readings given less weight, and why",
        columns=(
            Column(key="inspection", head="inspection"),
            Column(key="position", head="place", form="id"),
            Column(key="what", head="what", wrap=True),
        ),
        rows=tuple((flag.inspection_id, flag.position, flag.what) for flag in fit.flagged),
    )
    between = Table(
        title="Damage between layers, per million turns that strike from one into another",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="zone", head="zone"),
            Column(key="per_million_turns", head="per million turns", form="fixed3"),
            Column(key="events", head="seen", form="fixed2"),
            Column(key="exposure_turns", head="turns made", form="int", spare=1),
        ),
        rows=tuple(
            (one.kind, one.zone, band(one.per_million_turns), one.events, one.exposure_turns)
            for one in fit.layered_damage
        ),
        notes=("This comes on top of what the path in each unit costs.",) if fit.layered_damage else (),
    )
    return [rates, zones, damage, flagged, between, *_stretches(fit)]


def _stretches(fit: Fit) -> list[Table]:
    """Stretches that were harder or easier on tools than their units; no table where none is."""
    named = [stretch for stretch in fit.stretches if stretch.named]
    if not named:
        return []
    return [
        Table(
            title="Stretches harder or easier on tools than their units (1 is as the units)",
            columns=(
                Column(key="from", head="from chainage", form="fixed1"),
                Column(key="to", head="to", form="fixed1"),
                Column(key="times", head="times the wear", form="fixed2"),
            ),
            rows=tuple((each.from_chainage_m, each.to_chainage_m, band(each.times)) for each in named),
            notes=("All kinds of tools together. The drive ahead goes on as the last stretch and fades to its units.",),
        )
    ]


def outlook_table(outlook: Outlook, *, at_m: float | None = None, positions: tuple[int, ...] = ()) -> Table:
    """Every tool: last reading, wear now, where it reaches its limit; at a chainage if asked."""
    site = outlook.site
    columns = [
        Column(key="position", head="place", form="id"),
        Column(key="serial", head="serial", spare=3),
        Column(key="kind", head="kind", spare=2),
        Column(key="zone", head="zone", spare=4),
        Column(key="limit_mm", head="limit mm", form="fixed1"),
        Column(key="last_read", head="last read at", spare=1),
        Column(key="wear_now_mm", head="wear now mm", form="fixed1"),
        Column(key="limit_chainage_m", head="reaches its limit at"),
    ]
    over = None
    if at_m is None:
        columns.append(
            Column(key="beyond_drive_probability", head="chance it outlives the drive", form="chance", spare=5)
        )
    else:
        over = dict(zip(outlook.numbers.tolist(), outlook.over_limit_probability(at_m), strict=True))
        columns.append(
            Column(
                key="over_limit_probability",
                head=f"chance over its limit at {chainage_text(site.drive.chainage_m(at_m))}",
                form="chance",
            )
        )
    rows = []
    for tool in outlook.tools():
        if positions and tool.position not in positions:
            continue
        last = _last_read(site, tool)
        tail = tool.beyond_drive_probability if over is None else float(over[tool.position])
        rows.append(
            (
                tool.position,
                tool.serial or "—",
                tool.kind,
                tool.zone,
                tool.limit_mm,
                last,
                band(tool.wear_now_mm),
                chainage_band(tool.limit_chainage_m),
                tail,
            )
        )
    return Table(
        title=f"Outlook from the face at {chainage_text(site.drive.chainage_m(outlook.face_m))}",
        columns=tuple(columns),
        rows=tuple(rows),
        notes=(
            *doubted_lines(site, outlook),
            "… : beyond the end of the drive. Bands hold nine times out of ten if the ground is as described.",
        ),
    )


def _last_read(site: Site, tool: ToolOutlook) -> str:
    if tool.last_read is not None:
        return chainage_text(tool.last_read[1])
    if tool.unknown:
        return "unknown"
    new = tool.life is not None and tool.life.from_m > 0
    return f"new {chainage_text(site.drive.chainage_m(tool.life.from_m))}" if new and tool.life else "never"


def backtest_table(backtest: Backtest) -> Table:
    """How past outlooks did against the readings that followed."""
    return Table(
        title="Past outlooks against the readings that followed",
        columns=(
            Column(key="name", head="method", wrap=True),
            Column(key="coverage_50", head="inside 50 % band", form="percent"),
            Column(key="coverage_90", head="inside 90 % band", form="percent"),
            Column(key="crps_mm", head="CRPS mm", form="fixed2"),
            Column(key="bias_mm", head="bias mm", form="fixed2"),
            Column(key="n", head="readings", form="int"),
        ),
        rows=tuple(
            (score.name, score.coverage_50, score.coverage_90, score.crps_mm, score.bias_mm, score.n)
            for score in backtest.methods
        ),
        notes=(
            "CRPS: mean distance between what was foretold, spread and all, and what was read; smaller is better.",
            *backtest.remarks,
        ),
    )

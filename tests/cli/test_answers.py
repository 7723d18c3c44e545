"""The JSON that programs may rely on, and its agreement with the tables."""

from __future__ import annotations

import csv
import io

import pytest

from wearplan.site import load

QUANTILES = {"p05", "p10", "p25", "p50", "p75", "p90", "p95"}


def test_envelope(answer, sample):
    body = answer("check", sample)
    assert body["format"] == 1
    assert body["invented"] is True
    assert len(body["inputs_sha256"]) == 64
    assert body["generated_at"]
    assert {"file", "line", "place", "what", "code", "forbids"} <= set(body["faults"][0])


def test_rates(answer, sample):
    body = answer("rates", sample)
    for rate in body["rates"]:
        assert {"kind", "unit", "path_km", "volume_m3", "readings", "basis"} <= set(rate)
        for key in ("mm_per_km", "mm_per_1000_m3", "m3_per_tool"):
            assert set(rate[key]) == QUANTILES
            values = [value for value in rate[key].values() if value is not None]
            assert values == sorted(values)
    assert body["reference_radius_mm"] > 0
    assert body["reference_penetration_mm"] > 0
    assert {"kind", "zone", "factor"} <= set(body["zones"][0])
    assert body["damage"]


def test_outlook(answer, sample):
    body = answer("outlook", sample, "--at", "2+400")
    assert body["at"]["chainage_m"] == pytest.approx(2400.0)
    assert len(body["at"]["tools"]) == len(body["tools"])
    for tool in body["tools"]:
        assert set(tool["limit_chainage_m"]) == QUANTILES
        assert 0 <= tool["beyond_drive_probability"] <= 1
        if tool["last_read"] is not None:
            assert set(tool["last_read"]) == {"chainage_m", "id"}


def test_the_csv_says_what_the_json_says(answer, call, sample):
    body = answer("outlook", sample)
    code, out, _ = call("outlook", sample, "--csv")
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [int(row["position"]) for row in rows] == [tool["position"] for tool in body["tools"]]
    assert [float(row["wear_now_mm_p50"]) for row in rows] == [tool["wear_now_mm"]["p50"] for tool in body["tools"]]


def test_life_names_its_records(answer, sample):
    body = answer("life", sample, 12)
    assert body["chapters"]
    assert all(":" in place for place in body["rests_on"])


def test_schema_lists_and_prints(call):
    code, out, _ = call("schema")
    assert code == 0
    assert "wheel.toml" in out
    assert call("schema", "wheel.toml")[0] == 0
    assert call("schema", "no.toml")[0] == 2


def test_a_fan_in_characters(call, sample):
    code, out, err = call("outlook", sample, "--place", 19, "--fan")
    assert code == 0, err
    assert "Wear ahead at place 19" in out
    assert "▒" in out


def test_the_plan_lists_what_was_not_seen_with_its_ring(call, sample):
    """Places the last stop did not reach are named with the ring they were last seen at."""
    site = load(sample).site
    last = site.inspections[-1]
    seen = {m.position for m in last.measurements if m.not_read is None} | {f.position for f in last.fittings}
    code, out, err = call("plan", sample, "--quick")
    assert code == 0, err
    line = next(part for part in " ".join(out.split()).split("Not seen at the last stop: ")[1:])
    words = line.split(" last seen at ")
    listed = {int(number) for number in words[0].replace(" ", "").split(",")}
    assert listed
    assert not listed & seen
    assert "(ring " in words[1]

"""The readers that stood before know the same: a workbook is told, heads of four languages, and ``12 / 0`` asks."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from tests.take import office
from wearplan.cli.main import main
from wearplan.site import load
from wearplan.site.exports.guess import propose_mapping
from wearplan.site.sheets.filled import read_filled_sheet

SAMPLE = "sample_wheel"


def test_rings_given_a_workbook_says_what_reads_it(tmp_path, capsys):
    pytest.importorskip("openpyxl")
    path = office.save(tmp_path / "log.xlsx", {"Log": [["Ring"]]})
    assert main(["rings", SAMPLE, str(path)]) == 2
    assert "wearplan take" in capsys.readouterr().err


@pytest.mark.parametrize(
    "heads",
    [
        "Ring,Start Sta.,End Sta.,Thrust [kN]",
        "Anneau;PK début;PK fin;Poussée [kN]",
        "Anillo;PK inicio;PK fin;Empuje [kN]",
    ],
)
def test_a_mapping_is_proposed_from_heads_of_the_trade(tmp_path, heads):
    separator = ";" if ";" in heads else ","
    path = tmp_path / "log.csv"
    path.write_text(
        heads + "\n" + "\n".join(separator.join(map(str, (n, n + 10, n + 11, 9000))) for n in range(30)),
        encoding="utf-8",
    )
    proposed = propose_mapping(path)
    assert proposed is not None
    assert all(name in proposed for name in ("ring =", "start_chainage_m =", "end_chainage_m =", "thrust_kn ="))


def test_two_values_with_a_nought_are_asked_and_never_two_points_in_silence(tmp_path):
    site = load(SAMPLE).site
    place = site.wheel.positions[0].number
    head = {"ring": str(site.rings[-1].ring), "started_at": "2026-08-25T20:00+00:00", "mode": "free air"}

    def read(text):
        path = tmp_path / "sheet.csv"
        path.write_text(f"place,wear_mm\n{place},{text}\n")
        return read_filled_sheet(path, site, head=head, now=datetime(2026, 8, 26, tzinfo=UTC))

    assert "the old tool and the new one" in read("12 / 0").faults[0].what
    assert read("12 and 0").inspection.measurements[0].points_mm == (12.0, 0.0)
    assert read("12/11").inspection.measurements[0].points_mm == (12.0, 11.0)

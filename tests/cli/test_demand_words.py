"""What `demand` writes where there is little to say, and where a file cannot be used."""

from __future__ import annotations

import wearplan.demand
import wearplan.report.tables.demand
from wearplan.cli.commands import demand as command
from wearplan.report.tables.table import Column, Table


def test_nothing_to_order_is_said(call, sample, monkeypatch):
    """The notes under the orders, such as what on order is not needed, stand with an empty table too."""

    def table(title, note):
        return Table(title=title, columns=(Column(key="tool_type", head="tool type"),), rows=(), notes=(note,))

    for step in ("read_site", "learn", "look_ahead", "propose"):
        monkeypatch.setattr(command, step, lambda *_: None)
    monkeypatch.setattr(wearplan.demand, "demand_of", lambda drives, pace: None)
    tables = [table("What to order", "the 20 on order are not needed"), table("Other", "hidden")]
    monkeypatch.setattr(wearplan.report.tables.demand, "demand_tables", lambda _: tables)
    code, out, _ = call("demand", sample)
    assert code == 0
    assert out.splitlines()[0] == "What to order"
    assert "(none)" in out
    assert "the 20 on order are not needed" in out
    assert "hidden" not in out


def test_an_earlier_answer_that_is_not_there(call, sample, tmp_path):
    code, _, err = call("demand", sample, "--since", tmp_path / "none.json")
    assert code == 2
    assert "No such file" in err
    assert "Errno" not in err

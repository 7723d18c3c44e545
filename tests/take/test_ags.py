# ruff: noqa: E501 (lines of a file)
"""AGS 4: tests by stratum, D60 from the curve, a broken line told by its number and the rest read."""

from __future__ import annotations

import pytest

from wearplan.take.asking import Answers
from wearplan.take.records.ground import ground_from

LINES = [
    '"GROUP","LOCA"', '"HEADING","LOCA_ID","LOCA_CNGE"', '"UNIT","",""', '"TYPE","ID","X"', '"DATA","B1","0+120.0"', "",
    '"GROUP","GEOL"', '"HEADING","LOCA_ID","GEOL_TOP","GEOL_BASE","GEOL_DESC","GEOL_GEOL"', '"UNIT","","m","m","",""',
    '"TYPE","ID","2DP","2DP","X","PA"', '"DATA","B1","0.00","5.00","stiff clay","CL"', '"DATA","B1","5.00","20.00","gravel","GR"', "",
    '"GROUP","RCAG"', '"HEADING","LOCA_ID","SPEC_DPTH","RCAG_CAIM","RCAG_CAIS"', '"UNIT","","m","",""', '"TYPE","ID","2DP","1DP","2DP"',
    '"DATA","B1","6.00","2.0","0.10"', '"DATA","B1","7.00","2.4","0.20"', '"DATA","B1","8.00","2,6","0.20"', '"DATA","B9","8.00","2.6","0.20"',
    '"DATA","B1","8.00","2.6"', "",
    '"GROUP","GRAT"', '"HEADING","LOCA_ID","SPEC_DPTH","GRAT_SIZE","GRAT_PERP"', '"UNIT","","m","mm","%"', '"TYPE","ID","2DP","3SF","0DP"',
    '"DATA","B1","2.00","0.100","40"', '"DATA","B1","2.00","1.00","80"',
]  # fmt: skip


def test_tests_come_by_stratum_and_broken_lines_are_told():
    answers = Answers(accept=True)
    ground = ground_from([], [("lab.ags", "\r\n".join(LINES))], answers)
    value, said = ground.units["GR"].value("cai")
    assert value == pytest.approx(2.2)
    assert said == "2 tests, 2 to 2.4, sd 0.28"
    assert ground.units["GR"].spread["cai"] == [0.1, 0.2]
    assert ground.units["CL"].value("d60")[0] == pytest.approx(0.1 * 10**0.5, rel=1e-3)
    told = [finding.what for finding in answers.findings]
    assert [what.split(":")[0] for what in told] == ["lab.ags, line 20", "lab.ags, line 21", "lab.ags, line 22"]
    assert answers.used == {"AGS strata": "new units"}
    assert not ground.sections
    assert ground.holes[0]["chainage"] == "0+120.0"

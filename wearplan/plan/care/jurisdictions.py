"""Official texts on work in compressed air: what was read, where and when.

Only figures that were read at the address named stand here as numbers. None of them is a value to work by: they raise
cautions, and the text in force must be checked. What was not read stays None and is said to be unknown. Limits are
gauge pressures. Nothing here is, or may become, a schedule, a stay time or an exposure limit.
"""

from __future__ import annotations

from dataclasses import dataclass

READ_ON = "by 2026-11, excerpts only"
"""When the addresses below were read (excerpts only, no whole text)."""
READ_LATER = "2026-11-25, excerpts only"
"""When the addresses were read that were looked up since."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A threshold as read."""

    what: str
    """``applies``, ``ceiling`` or ``medical lock``."""
    bar: float
    as_written: str
    clause: str
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Jurisdiction:
    """An official text and what was read of it."""

    code: str
    name: str
    title: str
    thresholds: tuple[Threshold, ...] = ()
    notice: str | None = None
    notice_days: int | None = None
    """Days before the start, where a clause that was read gives them; for a date to ask about, nothing more."""
    notice_clause: str | None = None
    notice_address: str | None = None
    unread: tuple[str, ...] = ()
    """Thresholds this text is believed to set, whose numbers were not read."""
    remark: str | None = None
    read_on: str = READ_ON

    def threshold(self, what: str) -> Threshold | None:
        """The threshold of that kind, or None where none was read."""
        return next((t for t in self.thresholds if t.what == what), None)


_CEILING = "a pressure above which special approval is needed"
_LOCK = "a pressure above which a medical lock is needed"
_APPLIES = "a pressure from which the rules apply"

JURISDICTIONS: tuple[Jurisdiction, ...] = (
    Jurisdiction(
        code="US",
        name="United States (federal)",
        title="29 CFR 1926.803, Compressed air",
        unread=(_CEILING, _LOCK),
        remark="variances are granted per employer and project (Federal Register); state rules may differ",
    ),
    Jurisdiction(
        code="US-WA",
        name="Washington State",
        title="WAC 296-36",
        thresholds=(
            Threshold(what="ceiling", bar=3.45, as_written="50 psig", clause="WAC 296-36-100(2)",
                      address="apps.leg.wa.gov/wac/default.aspx?cite=296-36-100"),
            Threshold(what="medical lock", bar=0.90, as_written="over 13 psig", clause="WAC 296-36-215",
                      address="lawfilesext.leg.wa.gov, WAC 296-36-215"),
        ),
    ),
    Jurisdiction(
        code="US-NY",
        name="New York",
        title="Labor Law section 426",
        thresholds=(
            Threshold(what="medical lock", bar=1.17, as_written="over 17 psi", clause="Labor Law 426 (copy of 2014)",
                      address="nysenate.gov/legislation/laws/LAB/426"),
        ),
        unread=(_CEILING,),
    ),
    Jurisdiction(
        code="US-LA",
        name="Louisiana",
        title="Revised Statutes, section 484",
        thresholds=(
            Threshold(what="ceiling", bar=3.45, as_written="50 lb except emergency", clause="section 484",
                      address="legis.la.gov/legis/Law.aspx?d=83917"),
        ),
        unread=(_LOCK,),
    ),
    Jurisdiction(
        code="US-CA",
        name="California",
        title="Title 8 sections 6095 and 6120",
        thresholds=(
            Threshold(what="medical lock", bar=0.965, as_written="unless below 14 psig",
                      clause="section 6120(b), Register 2024/38", address="regulations.justia.com"),
        ),
        notice="your code may ask for notice before the start; how long before was not read here",
        unread=(_CEILING,),
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="GB",
        name="Great Britain",
        title="Work in Compressed Air Regulations 1996 (SI 1996/1656)",
        thresholds=(
            Threshold(what="ceiling", bar=3.5, as_written="3.5 bar except in an unforeseen emergency", clause="reg 11",
                      address="lexisnexis.co.uk, Halsbury paras 699, 702"),
        ),
        notice="at least 14 days before the start to the HSE",
        notice_days=14,
        notice_clause="reg 6",
        notice_address="lexisnexis.co.uk, Halsbury paras 699, 702",
        unread=(_APPLIES, _LOCK),
    ),
    Jurisdiction(
        code="GB-NIR",
        name="Northern Ireland",
        title="Work in Compressed Air Regulations (Northern Ireland) 2004 (SR 2004/241)",
        notice="notice to the HSENI and to hospitals",
        notice_clause="reg 6",
        notice_address="legislation.gov.uk/nisr/2004/241/note",
        unread=(_APPLIES, _CEILING),
        remark="the contractor must ensure that the ground round the works withstands the air loads (reg 7)",
    ),
    Jurisdiction(
        code="DE",
        name="Germany",
        title="Druckluftverordnung (4 Oct 1972) with RAB 25",
        thresholds=(
            Threshold(what="applies", bar=0.1, as_written="over 0.1 bar", clause="section 2(2)",
                      address="buzer.de/gesetz/5681/a77870.htm"),
            Threshold(what="medical lock", bar=0.7, as_written="0.7 bar and more, on site", clause="section 17(1) no 1",
                      address="gesetze-im-internet.de/drucklv/__17.html"),
        ),
        notice="at least 2 weeks before to the authority",
        notice_days=14,
        notice_clause="section 3",
        notice_address="buzer.de/gesetz/5681/a77870.htm",
        unread=(_CEILING,),
        remark="section 17(1) asks for a chamber made for at least 5.5 bar (gesetze-im-internet.de/drucklv/__17.html)",
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="AT",
        name="Austria",
        title="Druckluft- und Taucherarbeiten-Verordnung, section 26",
        thresholds=(
            Threshold(what="ceiling", bar=2.45, as_written="over 2.5 kp/cm² terms are set case by case",
                      clause="section 26", address="gesetzefinden.at/bundesrecht/bundesgesetze/10008298/para-26"),
        ),
        unread=(_LOCK,),
    ),
    Jurisdiction(
        code="FR",
        name="France",
        title="Code du travail R.4461-1 ff, arrêté of 22 April 2024 (mention D)",
        thresholds=(
            Threshold(what="applies", bar=0.1, as_written="over 100 hPa relative", clause="R.4461-1",
                      address="preventionbtp.fr; bossons-fute.fr fiche 109"),
            Threshold(what="ceiling", bar=5.0, as_written="above 5 000 hPa a mixture other than air is to be preferred",
                      clause="arrêté of 22 April 2024", address="preventionbtp.fr"),
        ),
        notice="the company must hold a certification",
        remark="need of a recompression chamber by risk analysis",
    ),
    Jurisdiction(
        code="SG",
        name="Singapore",
        title="WSH (Construction) Regulations 2007",
        thresholds=(
            Threshold(what="medical lock", bar=1.0, as_written="over 1 bar", clause="reg 107",
                      address="laws.sg/legislation/sub-leg-2006-wsha-s663-2007/reg-107"),
        ),
        unread=(_CEILING,),
    ),
    Jurisdiction(
        code="HK",
        name="Hong Kong",
        title="F&IU (Work in Compressed Air) Regulations, Cap 59M",
        thresholds=(
            Threshold(what="medical lock", bar=0.97, as_written="over 14 psi", clause="reg 21",
                      address="hklii.org/hk/legis/en/reg/59M/s21"),
        ),
        unread=(_CEILING,),
    ),
    Jurisdiction(
        code="JP",
        name="Japan",
        title="Ordinance on Safety and Health of Work under High Pressure (Ministry of Labour Ord. 40/1972)",
        unread=(_CEILING, _LOCK),
        remark="text in force since 1 April 2023: article 42 asks for a chamber and gives no number itself, article "
        "12-2 for a written work plan with the highest pressure (rodo.co.jp/laws/117405, 117401)",
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="CH",
        name="Switzerland",
        title="SR 832.311.12 (15 April 2015, as of 1 January 2018)",
        thresholds=(
            Threshold(what="applies", bar=0.1, as_written="above 0.1 bar", clause="art 2 a",
                      address="lexaris.de 225074; droit-bilingue.ch 832.311.12"),
            Threshold(what="medical lock", bar=0.7, as_written="from 0.7 bar", clause="art 21",
                      address="lexaris.de 225074; droit-bilingue.ch 832.311.12"),
        ),
        notice="4 weeks before; work that was not planned is reported at the latest 2 weeks after",
        notice_days=28,
        notice_clause="art 4",
        notice_address="lexaris.de 225074; droit-bilingue.ch 832.311.12",
        unread=(_CEILING,),
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="BE",
        name="Belgium",
        title="Codex on well-being at work, book V title 4",
        thresholds=(
            Threshold(what="applies", bar=0.1, as_written="100 hPa over the local pressure", clause="V.4-2",
                      address="studylibnl.com/doc/1105250; werk.belgie.be"),
        ),
        notice="notice to the inspectorate",
        notice_address="studylibnl.com/doc/1105250; werk.belgie.be",
        unread=(_CEILING, _LOCK),
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="ES",
        name="Spain",
        title="Order of 20 January 1956 (BOE-A-1956-2077)",
        notice="authorisation is asked 30 days before",
        notice_days=30,
        notice_clause="art 3",
        notice_address="mydokument.com",
        unread=(_APPLIES, _CEILING, _LOCK),
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="CA",
        name="Canada (standard)",
        title="CSA Z275.3-09",
        thresholds=(
            Threshold(what="applies", bar=0.2, as_written="above 20 kPa", clause="scope", address="shop.csa.ca"),
        ),
        unread=(_CEILING, _LOCK),
        remark="provincial rules hold beside the standard",
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="BR",
        name="Brazil",
        title="NR-15 annex 6 (not read)",
        unread=(_APPLIES, _CEILING, _LOCK),
    ),
    Jurisdiction(
        code="TW",
        name="Taiwan",
        title="rules on work at abnormal pressure, 2014",
        unread=(_APPLIES, _CEILING, _LOCK),
        remark="title read only (law.moj.gov.tw N0060026)",
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="IT",
        name="Italy",
        title="DPR 321/1956",
        unread=(_APPLIES, _CEILING, _LOCK),
        remark="title read only",
        read_on=READ_LATER,
    ),
    Jurisdiction(
        code="CA-BC",
        name="British Columbia",
        title="OHS Regulation 20.122 to 20.123",
        thresholds=(
            Threshold(what="applies", bar=0.07, as_written="over 7 kPa (1 psi)", clause="20.122",
                      address="ohsinsider.com, around the provinces"),
        ),
        unread=(_CEILING, _LOCK),
    ),
    Jurisdiction(
        code="CA-MB",
        name="Manitoba",
        title="provincial rules, with CSA Z275.3-09 (R2014)",
        notice="at least 30 days before",
        notice_address="ohsinsider.com, around the provinces",
        unread=(_CEILING, _LOCK),
    ),
    Jurisdiction(
        code="CA-ON",
        name="Ontario",
        title="O. Reg. 213/91",
        notice="your code may ask for notice beforehand; how long before was not read here",
        unread=(_CEILING, _LOCK),
    ),
    Jurisdiction(
        code="AU",
        name="Australia",
        title="a standard on work in compressed air in tunnels, shafts and caissons (not read)",
        unread=(_APPLIES, _CEILING, _LOCK),
    ),
    Jurisdiction(
        code="CN",
        name="China",
        title="CJJ 217-2014, Technical code for chamber opening and pressurised work in shield method",
        unread=(_APPLIES, _CEILING, _LOCK),
        remark="title read only (wenkunet.com/d-8648452)",
    ),
    Jurisdiction(
        code="IN",
        name="India",
        title="IS 4138:1977, Safety code for working in compressed air",
        unread=(_APPLIES, _CEILING, _LOCK),
        remark="titles read only (infralens.in/code/IS-4138-1977); the Central Rules of 1998, rule 166, ask for "
        "man-locks (indiankanoon 81301567)",
    ),
    Jurisdiction(
        code="NL",
        name="Netherlands",
        title="national rules on work under overpressure (not read)",
        unread=(_APPLIES, _CEILING, _LOCK),
    ),
)  # fmt: skip


def jurisdiction_of(code: str | None) -> Jurisdiction | None:
    """The entry of that code, upper or lower case; None for no code and for one that is not in the table."""
    if not code:
        return None
    wanted = code.strip().upper()
    return next((j for j in JURISDICTIONS if j.code == wanted), None)

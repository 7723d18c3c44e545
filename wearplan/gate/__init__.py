"""The gate before a record is written: the folder plus this record, judged. Loads no heavy library."""

from wearplan.gate.finding import (
    CONTRADICTED,
    ODD,
    Finding,
    acceptance_words,
    contradicted,
    with_acceptance,
    with_words,
)
from wearplan.gate.judge import as_before, judge, undone, with_record
from wearplan.gate.rows import ACCEPTANCE, JudgedRing, acceptance, judge_rings, judge_word, sensor_reading

__all__ = [
    "ACCEPTANCE", "CONTRADICTED", "ODD", "Finding", "JudgedRing", "acceptance", "acceptance_words", "as_before",
    "contradicted", "judge", "judge_rings", "judge_word", "sensor_reading", "undone", "with_acceptance", "with_record",
    "with_words",
]  # fmt: skip

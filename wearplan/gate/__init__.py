"""The gate before a record is written: the folder plus this record, judged. Loads no heavy library."""

from wearplan.gate.finding import CONTRADICTED, ODD, Finding, contradicted, with_acceptance
from wearplan.gate.judge import judge

__all__ = ["CONTRADICTED", "ODD", "Finding", "contradicted", "judge", "with_acceptance"]

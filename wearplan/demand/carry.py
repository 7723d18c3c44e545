"""What this drive learnt, as the next one's expectation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wearplan.site.records import Site
    from wearplan.wear import Fit


def expected_rates(site: Site, fit: Fit) -> str:
    """TOML lines of ``expected_rate`` by unit, to paste into the ground file of the next drive.

    The factor covers about two thirds of the doubt: the square root of the ratio of the 84 % to the 16 % quantile of
    a log-normal fitted to the 90 % band. Only units with readings are written; each line names this drive as its
    source.
    """
    lines = [f"# from the readings of {site.name}{' (invented)' if site.invented else ''}"]
    for unit in fit.units:
        entries = []
        for rate in fit.rates:
            quantiles = rate.mm_per_km
            if rate.unit != unit or not rate.readings or not quantiles.p05 or not quantiles.p50 or not quantiles.p95:
                continue
            spread = math.log(quantiles.p95 / quantiles.p05) / (2 * 1.6449)
            entries.append(
                f'  {{ kind = "{rate.kind}", mm_per_km = {quantiles.p50:.4g}, factor = {math.exp(spread):.2f} }},'
                f"  # {rate.readings} readings, {rate.path_km:.0f} km; {rate.basis}"
            )
        if entries:
            lines += [f"# unit {unit}", "expected_rate = [", *entries, "]"]
    return "\n".join(lines) + "\n"

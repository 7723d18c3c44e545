"""What this drive learnt, as the next one's expectation."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearplan import history

if TYPE_CHECKING:
    from wearplan.site.records import Site
    from wearplan.wear import Fit


BETWEEN_DRIVES = 1.25
"""Factor by which the same unit's rate may differ between two drives: taken, not measured; no published source."""


def expected_rates(site: Site, fit: Fit, *, between_drives: float = BETWEEN_DRIVES) -> str:
    """TOML lines of ``expected_rate`` by unit, to paste into the ground file of the next drive.

    Parameters
    ----------
    between_drives : float
        Factor added for what differs from one drive to another, since the next wheel and the next ground are not this
        one's; 1 adds nothing.

    Notes
    -----
    The factor covers about two thirds of the doubt: one standard deviation of a log-normal fitted to the 90 % band,
    joined with ``between_drives`` as independent. Only units with readings are written; each line names its basis.
    """
    invented = " (invented)" if site.invented and "invented" not in site.name else ""
    face = history.face_m(site)
    lines = [
        f"# Source: readings of {_plain(site.name)}{invented}, as far as {site.drive.chainage_m(face):.1f} m; "
        f"inputs sha256 {site.inputs_sha256[:12]}",
        f"# factor: this drive's own doubt, joined with {between_drives:g} for what differs between drives (taken, not "
        "measured).",
        "# Put each list under the [[unit]] of that code in the next drive's ground file, if it is the same ground.",
    ]
    for unit in fit.units:
        entries = []
        for rate in fit.rates:
            quantiles = rate.mm_per_km
            if rate.unit != unit or not rate.readings or not quantiles.p05 or not quantiles.p50 or not quantiles.p95:
                continue
            spread = math.hypot(math.log(quantiles.p95 / quantiles.p05) / (2 * 1.6449), math.log(between_drives))
            entries.append(
                f'  {{ kind = "{rate.kind}", mm_per_km = {quantiles.p50:.4g}, factor = {math.exp(spread):.2f} }},'
                f"  # {rate.readings} readings, {rate.path_km:.0f} km; {_plain(rate.basis)}"
            )
        if entries:
            lines += [f"# unit {_plain(unit)}", "expected_rate = [", *entries, "]"]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """One line without control characters: nothing in a name can end the comment it stands in."""
    return "".join(letter if letter.isprintable() else " " for letter in text)

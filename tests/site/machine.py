"""A machine that logs a row a second, with the true turns of each ring beside it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np


@dataclass
class Truth:
    """What each ring took, by its number."""

    boring: dict[int, float]
    idle: dict[int, float]
    ccw: dict[int, float]
    start_m: dict[int, float]


def simulated(rings: int, *, seed: int = 1, ring_length_m: float = 1.5, seconds_a_ring: int = 3000):
    """Arrays of a log (seconds, ring, driven metres, stroke, rotation, thrust), and the truth.

    Counter-clockwise rotation is negative. Each ring is bored at a steady speed with a pause in which the wheel turns
    idle, then built while it stands.
    """
    rng = np.random.default_rng(seed)
    truth = Truth({}, {}, {}, {})
    columns: dict[str, list[np.ndarray]] = {name: [] for name in ("ring", "driven", "stroke", "rpm", "thrust")}
    for ring in range(1, rings + 1):
        bored = int(seconds_a_ring * 0.5)
        pause, idle, built = 150, 200, seconds_a_ring - bored - 350
        rpm = 1.5 + rng.random()
        sign = -1.0 if ring % 3 == 0 else 1.0
        half = bored // 2
        steps = np.concatenate([
            np.full(half, 1.0), np.zeros(pause), np.zeros(idle), np.full(bored - half, 1.0), np.zeros(built),
        ])  # fmt: skip
        inside = np.cumsum(steps) * ring_length_m / bored
        turning = np.concatenate(
            [np.full(half, rpm), np.zeros(pause), np.full(idle, 1.0), np.full(bored - half, rpm), np.zeros(built)]
        )
        stroke = inside.copy()
        stroke[-built:] = np.linspace(ring_length_m, 0.0, built)
        columns["ring"].append(np.full(len(steps), ring))
        columns["driven"].append((ring - 1) * ring_length_m + inside)
        columns["stroke"].append(stroke + 0.3)
        columns["rpm"].append(sign * turning)
        columns["thrust"].append(np.where(steps > 0, 12000.0 + 100 * rng.standard_normal(len(steps)), 800.0))
        truth.boring[ring] = rpm * bored / 60
        truth.idle[ring] = idle / 60
        truth.ccw[ring] = 1.0 if sign < 0 else 0.0
        truth.start_m[ring] = (ring - 1) * ring_length_m
    arrays = {name: np.concatenate(parts) for name, parts in columns.items()}
    arrays["seconds"] = np.arange(len(arrays["ring"]), dtype=float)
    return arrays, truth


def log_lines(arrays, keep, *, start_chainage_m: float = 120.0, decimal: str = ".", separator: str = ",") -> str:
    """The log as text: time, ring, chainage, stroke in mm, rotation, thrust."""
    began = datetime(2025, 11, 17, 22, 10)
    lines = [separator.join(("Time", "Ring", "Chainage [m]", "Stroke [mm]", "Rotation [rpm]", "Thrust [MN]"))]
    for at in np.flatnonzero(keep):
        cells = (
            (began + timedelta(seconds=float(arrays["seconds"][at]))).isoformat(sep=" "),
            str(int(arrays["ring"][at])),
            f"{start_chainage_m + arrays['driven'][at]:.3f}",
            f"{arrays['stroke'][at] * 1000:.0f}",
            f"{arrays['rpm'][at]:.3f}",
            f"{arrays['thrust'][at] / 1000:.3f}",
        )
        lines.append(separator.join(cell.replace(".", decimal) if decimal == "," else cell for cell in cells))
    return "\n".join(lines) + "\n"

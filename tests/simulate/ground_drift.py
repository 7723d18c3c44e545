"""Ground that wears tools more or less than its unit does on the whole: in steps, by drift, or in one lens."""

from __future__ import annotations

import numpy as np

from .options import Options

GOES_TOGETHER_M = 45.0
LENS_M = 40.0


def drift(options: Options, edges_m: np.ndarray, rng: np.random.Generator) -> np.ndarray | None:
    """Factor on wear by ring (N,), or by ring and unit (N, U); of mean 1 over all worlds. None where there is none."""
    middle = 0.5 * (edges_m[1:] + edges_m[:-1])
    out = None
    if options.ground_sd:
        columns = options.units if options.ground_by_unit else 1
        out = np.stack([_one(options, middle, rng) for _ in range(columns)], axis=1)
        out = out if options.ground_by_unit else out[:, 0]
    if options.lens_factor != 1.0:
        face = options.length_m * options.driven_share
        start = rng.uniform(0.3, 0.75) * face
        lens = np.where((middle >= start) & (middle < start + LENS_M), options.lens_factor, 1.0)
        out = lens if out is None else out * lens if out.ndim == 1 else out * lens[:, None]
    return out


def _one(options: Options, middle_m: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    sd = options.ground_sd
    if options.ground_step_m:
        step = (middle_m // options.ground_step_m).astype(int)
        z = rng.standard_normal(int(step.max()) + 1)[step]
    else:
        noise = rng.standard_normal(len(middle_m))
        z = np.empty(len(middle_m))
        z[0] = noise[0]
        for k in range(1, len(middle_m)):
            keep = np.exp(-(middle_m[k] - middle_m[k - 1]) / GOES_TOGETHER_M)
            z[k] = keep * z[k - 1] + np.sqrt(1.0 - keep**2) * noise[k]
    return np.exp(sd * z - 0.5 * sd**2)

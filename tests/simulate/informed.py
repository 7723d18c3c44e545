"""An outlook that holds all that could be known at the face: a floor for what better learning could bring.

Rates, ground, turns and hazards ahead, the wear and the life factor of every tool in place are the truth's own. What
nobody can know stays drawn from its true distribution: the factor of a tool not fitted yet, the random steps of wear,
which tool is damaged where. A planner that costs more than foresight by so much with this outlook cannot be brought
nearer by learning better.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearplan import wear
from wearplan.wear import Outlook

from .follow import Follower


def informed_outlook(follower: Follower, *, draws: int = 200) -> Outlook:
    """The outlook of the site as it stands, its arrays replaced by the truth."""
    site, run = follower.site(), follower.run
    outlook = wear.look_ahead(site, wear.learn(site, checks=False), draws=draws)
    process = run.process
    at = [run.index[int(number)] for number in outlook.numbers]
    edges = process.edges_m[run.ring :]

    def along(by_ring: np.ndarray) -> np.ndarray:
        """(D, P, G) gathered from the face to the grid, the same in all draws."""
        sums = np.concatenate([np.zeros((len(at), 1)), np.cumsum(by_ring[at][:, run.ring :], axis=1)], axis=1)
        return every(np.array([np.interp(outlook.grid_m, edges, line) for line in sums]))

    def every(values: np.ndarray) -> np.ndarray:
        return np.broadcast_to(values, (draws, *values.shape)).astype(np.float32).copy()

    places = np.ones(len(at))
    told = replace(
        outlook,
        potential_mm=along(process.mean_mm),
        wear_now_mm=every(run.state.wear_mm[at]),
        life_factor=every(run.state.factor[at]),
        life_sd=every(process.life_sd * places),
        step_mm=every(process.theta_mm * places),
        unknown=np.zeros(len(at), bool),
    )
    told.__dict__["damage_hazard"] = along(process.hazard)  # worked out once and kept there by the outlook itself
    return told

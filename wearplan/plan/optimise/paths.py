"""Shortest paths of all places at once on the line of stops.

Arrays have the nodes first and the places last, so that every step works on contiguous runs of places. ``arcs`` is
(K+1, K+2, P) for K stops, ``inf`` where an interval is forbidden; ``toll`` (K+2, P) is paid on arriving at a node, or
None.
"""

from __future__ import annotations

import numpy as np

from .problem import Bools, Floats


def forward(arcs: Floats, toll: Floats | None = None) -> Floats:
    """Least cost from node 0 to each node, toll of that node included; (K+2, P)."""
    starts, ends, places = arcs.shape
    reach = np.empty((ends, places))
    reach[0] = 0.0
    work = np.empty((starts, places))
    for t in range(1, ends):
        np.add(reach[:t], arcs[:t, t], out=work[:t])
        np.minimum.reduce(work[:t], axis=0, out=reach[t])
        if toll is not None:
            reach[t] += toll[t]
    return reach


def backward(arcs: Floats, toll: Floats | None = None) -> Floats:
    """Least cost from each node to the end, toll of that node left out; (K+2, P)."""
    starts, ends, places = arcs.shape
    rest = np.empty((ends, places))
    onward = np.empty((ends, places))
    rest[ends - 1] = 0.0
    onward[ends - 1] = 0.0 if toll is None else toll[ends - 1]
    work = np.empty((ends, places))
    for s in range(starts - 1, -1, -1):
        np.add(arcs[s, s + 1 :], onward[s + 1 :], out=work[s + 1 :])
        np.minimum.reduce(work[s + 1 :], axis=0, out=rest[s])
        onward[s] = rest[s] if toll is None else rest[s] + toll[s]
    return rest


def trace(arcs: Floats, reach: Floats) -> Bools:
    """The nodes on each place's shortest path, (K+2, P), ends included; ``reach`` comes from `forward` with the same
    toll.

    A place without a path has no nodes. ``arcs`` must be ``inf`` for s >= t.
    """
    ends, places = reach.shape
    on_path = np.zeros((ends, places), dtype=bool)
    who = np.flatnonzero(np.isfinite(reach[-1]))
    at = np.full(who.size, ends - 1)
    on_path[0, who] = True
    flat = arcs.reshape(arcs.shape[0], -1)
    for _ in range(ends):  # one step back along all paths at a time
        if not who.size:
            break
        on_path[at, who] = True
        most = int(at.max())
        ways = flat[:most].take(at * places + who, axis=1)
        ways += reach[:most].take(who, axis=1)
        at = ways.argmin(axis=0)
        onward = at > 0
        who, at = who[onward], at[onward]
    return on_path


def avoiding(arcs: Floats, reach: Floats, onward: Floats) -> Floats:
    """Least cost of each place's path that passes by node n, for every n; (K+2, P), ``inf`` at both ends.

    ``onward`` is `backward` plus the toll of each node. A path passes by n on one arc (s, t) with s < n < t.
    """
    starts, ends, places = arcs.shape
    best = np.full((ends, places), np.inf)
    lowest = np.full((ends, places), np.inf)
    for s in range(starts - 1):
        np.minimum(lowest, reach[s] + arcs[s] + onward, out=lowest)
        np.minimum.reduce(lowest[s + 2 :], axis=0, out=best[s + 1])
    return best

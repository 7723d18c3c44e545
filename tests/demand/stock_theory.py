"""Closed forms of stock theory, to check the simulation against and to size a service level."""

from __future__ import annotations

import numpy as np


def newsvendor_poisson(*, mean: float, holding: float, shortage: float) -> tuple[int, float]:
    """Stock of least expected cost for one period with Poisson demand.

    Parameters
    ----------
    mean : float
        Mean demand of the period.
    holding, shortage : float
        Cost of one tool left over, and of one missing.

    Returns
    -------
    stock : int
    cost : float
        Expected holding and shortage cost at that stock.

    Notes
    -----
    Smallest S with P(D <= S) >= shortage / (shortage + holding); Snyder & Shen, *Fundamentals of Supply Chain
    Theory*, section on the newsvendor with discrete demand.
    """
    from scipy.stats import poisson

    stock = int(poisson.ppf(shortage / (shortage + holding), mean))
    demand = np.arange(0, int(poisson.ppf(1 - 1e-14, mean)) + 20)
    chance = poisson.pmf(demand, mean)
    over = np.sum(chance * np.maximum(stock - demand, 0))
    under = np.sum(chance * np.maximum(demand - stock, 0))
    return stock, float(holding * over + shortage * under)


def poisson_stock(*, mean: float, service: float) -> int:
    """Smallest stock S with P(demand <= S) >= service for Poisson demand of that mean."""
    from scipy.stats import poisson

    return int(poisson.ppf(service, mean))


def reorder_point_poisson(
    *, holding: float, shortage: float, set_up: float, demand_per_year: float, lead_time_years: float
) -> tuple[int, int, float]:
    """Reorder point r and quantity Q of least cost a year under continuous review, Poisson demand, backorders.

    Returns
    -------
    r, q : int
    cost : float
        (set-up · rate + sum of newsvendor costs at stock levels r+1 .. r+Q) / Q.

    Notes
    -----
    Federgruen & Zheng 1992, Operations Research 40:808, as given in Snyder & Shen: add stock levels one by one, each
    time the cheaper neighbour, until the next one is dearer than the average so far.
    """
    from scipy.stats import poisson

    mean = demand_per_year * lead_time_years
    demand = np.arange(0, int(poisson.ppf(1 - 1e-15, mean)) + 50)
    chance = poisson.pmf(demand, mean)

    def rate(stock: int) -> float:
        over = np.sum(chance * np.maximum(stock - demand, 0))
        under = np.sum(chance * np.maximum(demand - stock, 0))
        return float(holding * over + shortage * under)

    best = int(poisson.ppf(shortage / (shortage + holding), mean))
    low = high = best
    total = set_up * demand_per_year + rate(best)
    count = 1
    while True:
        left, right = rate(low - 1), rate(high + 1)
        step = min(left, right)
        if step >= total / count:
            return low - 1, count, total / count
        if left <= right:
            low -= 1
        else:
            high += 1
        total += step
        count += 1

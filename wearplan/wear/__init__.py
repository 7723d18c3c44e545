"""The regression of wear on exposure, each tool's outlook, and how well such outlooks have done.

`learn` fits, `look_ahead` projects, `backtest` scores. NumPy stands behind the records; SciPy and scikit-learn are
loaded by the functions that need them.
"""

from .quantiles import Quantiles

_HOME = {
    "learn": "fit", "NoGround": "fit", "look_ahead": "look", "Outlook": "outlook", "ToolOutlook": "outlook",
    "Fit": "results", "Rate": "results", "ZoneFactor": "results", "DamageRate": "results", "Flag": "results",
    "FurtherFactor": "results", "backtest": "hindsight", "Backtest": "hindsight", "Score": "hindsight",
    "WearRegressor": "estimator", "look_at": "events",
}  # fmt: skip
__all__ = ["Quantiles", *_HOME]


def __getattr__(name: str) -> object:
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

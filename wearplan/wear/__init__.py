"""The regression of wear on exposure, each tool's outlook, and how well such outlooks have done.

`learn` fits, `look_ahead` projects, `backtest` scores. NumPy stands behind the records; SciPy and scikit-learn are
loaded by the functions that need them.
"""

from typing import TYPE_CHECKING

from wearplan.lazily import lazily

if TYPE_CHECKING:
    from wearplan.wear.estimator import WearRegressor as WearRegressor
    from wearplan.wear.findings.events import asked_by_event as asked_by_event
    from wearplan.wear.findings.events import look_at as look_at
    from wearplan.wear.fit import NoGround as NoGround
    from wearplan.wear.fit import learn as learn
    from wearplan.wear.outlooks.look import look_ahead as look_ahead
    from wearplan.wear.outlooks.outlook import Outlook as Outlook
    from wearplan.wear.outlooks.outlook import ToolOutlook as ToolOutlook
    from wearplan.wear.quantiles import Quantiles as Quantiles
    from wearplan.wear.results import DamageRate as DamageRate
    from wearplan.wear.results import Fit as Fit
    from wearplan.wear.results import Flag as Flag
    from wearplan.wear.results import FurtherFactor as FurtherFactor
    from wearplan.wear.results import Rate as Rate
    from wearplan.wear.results import ZoneFactor as ZoneFactor
    from wearplan.wear.scoring.hindsight import Backtest as Backtest
    from wearplan.wear.scoring.hindsight import Score as Score
    from wearplan.wear.scoring.hindsight import backtest as backtest

__getattr__ = lazily(__name__)

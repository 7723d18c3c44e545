"""Where to stop and what to change there: candidates, costs, the optimiser, comparison, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.lazily import lazily

if TYPE_CHECKING:
    from wearplan.plan.care.cautions import PLANNING_ESTIMATE as PLANNING_ESTIMATE
    from wearplan.plan.care.cautions import cautions_for as cautions_for
    from wearplan.plan.care.jurisdictions import JURISDICTIONS as JURISDICTIONS
    from wearplan.plan.care.jurisdictions import Jurisdiction as Jurisdiction
    from wearplan.plan.care.jurisdictions import jurisdiction_of as jurisdiction_of
    from wearplan.plan.care.reading import read_by as read_by
    from wearplan.plan.play.use import Use as Use
    from wearplan.plan.play.use import UseDraws as UseDraws
    from wearplan.plan.play.use import use_draws as use_draws
    from wearplan.plan.proposal import propose as propose
    from wearplan.plan.records import Alternative as Alternative
    from wearplan.plan.records import Caution as Caution
    from wearplan.plan.records import Change as Change
    from wearplan.plan.records import Clash as Clash
    from wearplan.plan.records import CostParts as CostParts
    from wearplan.plan.records import Deferral as Deferral
    from wearplan.plan.records import GroundBreak as GroundBreak
    from wearplan.plan.records import LastStop as LastStop
    from wearplan.plan.records import Plan as Plan
    from wearplan.plan.records import Policy as Policy
    from wearplan.plan.records import ReadBy as ReadBy
    from wearplan.plan.records import Stop as Stop
    from wearplan.plan.records import UnusableWindow as UnusableWindow
    from wearplan.plan.records import Wishes as Wishes

__getattr__ = lazily(__name__)

"""stores.toml: what the store holds."""

from __future__ import annotations

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, parse
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.read.left_out import LeftOut
from wearplan.site.records import Stock, Stores, Wheel

_DEMAND = ("demand",)


def read_stores(doc: Document, wheel: Wheel | None, left_out: LeftOut | None = None) -> Stores | None:
    """The stores; None where any of it is wrong, since stock that is not counted makes an order, and the other way."""
    before = doc.log.forbidding("demand")
    parsed = parse(doc, model_of(Stores), lambda loc: _DEMAND)
    if parsed is None:
        return None
    found: dict[str, Stock] = {}
    serials: dict[str, int] = {}
    types = {tool_type.code: tool_type for tool_type in wheel.tool_types} if wheel else {}
    for index, item in enumerate(parsed.model.stock):
        here = parsed.loc("stock", index)
        if wheel and item.tool_type not in types and left_out is not None and left_out.may_be_type(item.tool_type):
            continue  # the tool type was named as faulty
        if wheel and item.tool_type not in types:
            parsed.fault(
                (*here, "tool_type"),
                f"no [[tool_type]] {shown(item.tool_type)} in wheel.toml; {did_you_mean(item.tool_type, types)}",
                code="unknown-tool-type", forbids=_DEMAND,
            )  # fmt: skip
        if item.tool_type in found:
            parsed.fault(
                (*here, "tool_type"), f"{shown(item.tool_type)} is there already; one [[stock]] a tool type",
                code="doubled", forbids=_DEMAND,
            )  # fmt: skip
        for at, worn in enumerate(item.part_worn):
            if worn.serial is not None and worn.serial in serials:
                parsed.fault(
                    (*here, "part_worn", at, "serial"), f"{shown(worn.serial)} lies on the shelf twice",
                    code="doubled", forbids=_DEMAND,
                )  # fmt: skip
            if worn.serial is not None:
                serials[worn.serial] = at
        found.setdefault(item.tool_type, made(Stock, item, origin=parsed.origin("stock", index)))
    if doc.log.forbidding("demand") > before:
        return None
    for code in sorted({position.tool_type for position in wheel.positions} - set(found)) if wheel else ():
        what = f"there is no [[stock]] for the tool type {shown(code)}: it counts as none on hand, none on order"
        parsed.fault(("stock",), what, code="no-stock", forbids=())
    return made(Stores, parsed.model, stock=tuple(found.values()))

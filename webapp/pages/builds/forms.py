"""What the forms of builds share: how they are handed to intake, and the rows of bags that they show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

from fastapi import Request

from models.errors import Unfit
from models.intake.builds.build import BuildRequest, bag_value, instead_value, read_build_request
from models.intake.faults import Faults
from models.queries.builds.build import BuildLineView
from models.queries.builds.list import BuildRow, designs_to_make, open_builds
from models.queries.builds.plan import BuildPlan, PlanBag, PlanItem, plan_build
from models.queries.builds.unpick import UnpickLine
from models.queries.stock.material import Material
from webapp.web.filters import qty
from webapp.web.forms import Form, RawForm
from webapp.web.prefs import prefs_of, showing
from webapp.web.reading import reading

SEVERAL = ("choice", "with", "instead")
"""Fields that may be sent more than once."""


@dataclass(frozen=True, slots=True)
class BagRow:
    """One row of a form of bags: its place in the form, its item, the bags to choose from, and what to say of it.

    `short` is what is missing of the item, in words; `tare_ug` is what the empty bag weighs where that is known.
    """

    n: int
    item: Material
    purpose: str
    options: tuple[tuple[str, str], ...]
    where: str
    planned_milli: int
    short: str = ""
    tare_ug: int | None = None
    rough: str = ""

    @property
    def weighable(self) -> bool:
        """Whether a weight says how many there are."""
        return self.item.unit == "g" or self.item.mass_g is not None


@dataclass(frozen=True, slots=True)
class Looked:
    """What an address or a form asks to be made, and what that takes; `faults` where it cannot be."""

    ask: BuildRequest | None
    plan: BuildPlan | None
    faults: Faults | None
    designs: tuple[tuple[int, str], ...]
    open: tuple[BuildRow, ...] = ()
    """The builds of the design for which rings are kept or out already: what is taken now is a second set."""

    @property
    def beside(self) -> str:
        """Their numbers as a form hands them on, to say that whoever sends it has seen them."""
        return ",".join(str(row.id) for row in self.open)


def look(request: Request, raw: RawForm, *, spare: bool = False, more: int = 0) -> Looked:
    """What is asked and what it takes, with so many pieces more than the good ones; nothing is written."""
    ask = read_build_request(fields_of(raw))
    session = reading(request)
    designs = designs_to_make(session)
    if isinstance(ask, Faults):
        return Looked(None, None, ask if raw.get("design_id") else None, designs)
    try:
        plan = plan_build(session, replace(ask, pieces=ask.pieces + more), spare=spare)
    except Unfit as unfit:
        return Looked(ask, None, unfit.faults, designs)
    under_way = open_builds(session, ask.design_id)
    return Looked(ask, plan, None, designs, under_way)


def fields_of(raw: RawForm) -> dict[str, object]:
    """A form as intake reads it, with all values of the fields that may be sent more than once."""
    found = raw.raw()
    for name in SEVERAL:
        if name in raw:
            found[name] = list(raw.all(name))
    return found


def asked_values(ask: BuildRequest) -> dict[str, object]:
    """What is asked, as the values of a form."""
    return {
        "design_id": ask.design_id or "",
        "pieces": ask.pieces,
        "choice": list(ask.choices),
        "with": [str(place) for place in ask.with_optional],
        "instead": [instead_value(*pair) for pair in ask.instead],
    }


def plan_values(plan: BuildPlan) -> list[dict[str, object]]:
    """What a plan takes, as the rows of a form; what is short asks for all of it, so that it is not passed over."""
    rows: list[dict[str, object]] = []
    for one in plan.items:
        for place, line in enumerate(one.lines):
            milli = line.quantity_milli
            if one.short is not None and place == len(one.lines) - 1:
                milli += one.short.missing_milli
            rows.append({"item_id": one.item.id, "bag": line.bag.value, "used": units(milli), "spoiled": ""})
    return rows


def plan_rows(request: Request, plan: BuildPlan | None, form: Form | None) -> tuple[BagRow, ...]:
    """The rows of a form that names bags, each with the bags of its item."""
    if plan is None or form is None:
        return ()
    items = {str(one.item.id): one for one in plan.items}
    shown = showing.set(prefs_of(request))
    try:
        return tuple(
            _plan_row(n, items[item_id], form.value(f"lines.{n}.bag"))
            for n in form.rows("lines")
            if (item_id := form.value(f"lines.{n}.item_id")) in items
        )
    finally:
        showing.reset(shown)


def none_free(plan: BuildPlan | None) -> tuple[PlanItem, ...]:
    """The items of which none is free, so that no row can name a bag of them."""
    return tuple(one for one in plan.items if one.short is not None and not one.lines) if plan else ()


def line_rows(lines: Sequence[BuildLineView]) -> tuple[BagRow, ...]:
    """The rows of a form about the bags of a build."""
    return tuple(
        BagRow(
            n=n,
            item=line.item,
            purpose=line.purpose,
            options=(),
            where=where_words(line.lot_id, line.place, line.batch),
            planned_milli=line.taken_milli or line.planned_milli,
            tare_ug=line.tare_ug,
            rough=line.rough,
        )
        for n, line in enumerate(lines)
    )


def line_values(lines: Iterable[BuildLineView]) -> list[dict[str, object]]:
    """The same as values: every bag by its name, with nothing said of it yet."""
    return [{"bag": line.value} for line in lines]


def unpick_values(lines: Iterable[UnpickLine]) -> list[dict[str, object]]:
    """What goes back into the bags when pieces are taken apart."""
    return [
        {"bag": bag_value(line.lot_id, line.place), "returned": units(line.in_pieces_milli), "spoiled": ""}
        for line in lines
    ]


def unpick_rows(lines: Sequence[UnpickLine]) -> tuple[BagRow, ...]:
    """The rows of that form."""
    return tuple(
        BagRow(
            n=n,
            item=line.item,
            purpose="",
            options=(),
            where=where_words(line.lot_id, line.place, ""),
            planned_milli=line.in_pieces_milli,
        )
        for n, line in enumerate(lines)
    )


def where_words(lot_id: int, place: str, batch: str) -> str:
    """Where a bag lies, in words: 'drawer B4, lot 12, dye lot 7'."""
    return ", ".join(word for word in (place, f"lot {lot_id}", batch) if word)


def precious(items: Iterable[Material]) -> bool:
    """Whether any of these is of a metal whose scrap is kept."""
    return any(item.body.metal is not None and item.body.metal.precious for item in items)


def over(form: Form | None, blank: Form) -> Form:
    """The form that was sent, with the fields that a shorter form of the same act did not have."""
    if form is None:
        return blank
    left_out = {"keep_scrap"} if form.has("keep_scrap_asked") else set()
    known = {name: value for name, value in blank.values.items() if name not in left_out}
    return replace(form, values=MappingProxyType({**known, **form.values}))


def units(milli: int) -> str:
    """Thousandths as a person types them: '40', '2.5'."""
    whole, part = divmod(milli, 1000)
    return f"{whole}.{part:03d}".rstrip("0") if part else str(whole)


def _plan_row(n: int, one: PlanItem, bag: str) -> BagRow:
    chosen = next((each for each in one.bags if each.value == bag), None)
    return BagRow(
        n=n,
        item=one.item,
        purpose=", ".join(one.need.purposes),
        options=tuple((each.value, _bag_words(each, one.item)) for each in one.bags),
        where="",
        planned_milli=one.need.need_milli,
        short=one.item.counted(one.short.missing_milli) if one.short else "",
        tare_ug=chosen.tare_ug if chosen else None,
        rough=chosen.rough if chosen else "",
    )


def _bag_words(bag: PlanBag, item: Material) -> str:
    about = {"": "", "about": "about ", "plenty": "plenty, some "}[bag.rough]
    unit = item.counted(bag.free_milli).rpartition(" ")[2]
    free = qty(Decimal(bag.free_milli).scaleb(-3), unit)
    return f"{where_words(bag.lot_id, bag.place, bag.batch)}: {about}{free} free"

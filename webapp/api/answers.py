"""Answers of the API as models that fill themselves from what queries give: no field is written out by hand.

A field finds its value under its own name, or where `path` says; `beneath` names what else has fields of an answer.
`answer_of` takes the fields that a noun declares (`models/intake/fields`). What a field is made of follows from its
type: money from an exact Decimal or from millionths, in the shop's currency from the context of `filled`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Annotated, Any, TypeVar, get_type_hints

from pydantic import (
    AliasChoices,
    AliasGenerator,
    AliasPath,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    create_model,
)

from models.costing.inputs import UnitCost
from models.intake.fields import (
    Beside,
    Choice,
    Declared,
    Flag,
    Identity,
    Mass,
    Money,
    Own,
    Rows,
    Size,
    Text,
    Whole,
    fields_of,
)
from models.trade.measures import to_mm
from models.trade.money import from_micros
from webapp.api.shapes import MoneyOut, decimal_text, money_out
from webapp.web.json_api import plain

A = TypeVar("A", bound=BaseModel)


def path(*steps: str | int, says: str | None = None) -> Any:
    """Where in a view a field stands; under a None, it is None."""
    ends = (
        AliasPath(*steps[:end])  # type: ignore[arg-type]
        for end in range(len(steps), 0, -1)
    )
    return Field(validation_alias=AliasChoices(*ends), description=says)


def either(first: tuple[str, ...], other: str) -> Any:
    """Where a field stands: under the first path, or under the other name where there is no such thing."""
    return Field(validation_alias=AliasChoices(AliasPath(*first), other))


def beneath(*steps: str) -> AliasGenerator:
    """For the class of an answer: its fields stand in the view itself, and those that don't, under this path."""
    return AliasGenerator(validation_alias=lambda name: AliasChoices(name, AliasPath(*steps, name)))


def amount_in(field: str) -> Callable[[object, ValidationInfo], object]:
    """What makes money of a Decimal or of millionths, in the currency that an earlier field or the context has."""

    def turn(value: object, info: ValidationInfo) -> object:
        if not isinstance(value, Decimal | int):
            return value
        known = info.data if field in (info.data or {}) else info.context or {}
        return money_out(from_micros(value) if isinstance(value, int) else value, known[field])

    return turn


def _named_currency(value: object, info: ValidationInfo) -> object:
    return value or (info.context or {})["currency"]


def _unit_cost(value: object, info: ValidationInfo) -> object:
    return amount_in("currency")(value.amount, info) if isinstance(value, UnitCost) else None


def _thousandth(value: int) -> float:
    return value / 1000


def _millionth(value: int) -> float:
    return value / 1_000_000


def places(count: int) -> BeforeValidator:
    """A number of so many decimals, half to even."""
    return BeforeValidator(lambda value: round(value, count))


def each(name: str) -> BeforeValidator:
    """Of many things, what each has under a name."""
    return BeforeValidator(lambda many: [getattr(one, name) for one in many])


Amount = Annotated[MoneyOut, BeforeValidator(amount_in("currency"))]
"""An exact amount in the shop's currency."""
Asked = Annotated[MoneyOut, BeforeValidator(amount_in("asks_in"))]
"""An exact amount in the currency that the answer's hidden field `asks_in` names."""
Currency = Annotated[str, BeforeValidator(_named_currency)]
"""The currency (or unit) that a view names; where it names none, the shop's."""
CostOfOne = Annotated[MoneyOut | None, BeforeValidator(_unit_cost)]
"""What one unit costs; null where no cost follows."""
PlainNumber = Annotated[float | int, BeforeValidator(plain), WithJsonSchema({"type": "number"})]
"""A JSON number, filled from a Decimal: whole ones without a fraction."""
PlainMillimetres = Annotated[PlainNumber, BeforeValidator(lambda nm: to_mm(nm) if isinstance(nm, int) else nm)]
"""Filled from nanometres: whole ones without a fraction."""
Units = Annotated[float, BeforeValidator(_thousandth)]
"""Filled from thousandths: a quantity in its unit, or minutes."""
Millimetres = Annotated[float, BeforeValidator(_millionth)]
"""Filled from nanometres."""
Grams = Annotated[float, BeforeValidator(_millionth)]
"""Filled from micrograms."""
DecimalText = Annotated[str, BeforeValidator(decimal_text)]
"""An exact number as decimal text."""
TextOrEmpty = Annotated[str, BeforeValidator(lambda text: text or "")]
"""Text that is empty where there is no such thing."""
Known = Annotated[bool, BeforeValidator(lambda value: value is not None)]
"""Whether there is such a thing in the view."""


class AnswerModel(BaseModel):
    """What every answer has: it is filled from attributes."""

    model_config = ConfigDict(from_attributes=True, populate_by_name=True)


class ClosedAnswer(AnswerModel, extra="forbid"):
    """An answer that says of itself that nothing stands in it that is not described."""


class LineOut(AnswerModel):
    """One figure with its reasons; `lines` add up to it, `because` are the facts behind it."""

    label: str
    amount: DecimalText
    unit: Currency = path("amount_unit", says="A currency, or the unit of a fact such as g or g/cm³.")
    reason: str
    source: str
    lines: list[LineOut]
    because: list[LineOut]


def answer_of(
    name: str,
    draft: type[Any],
    *,
    says: str = "",
    extra: type[AnswerModel] = ClosedAnswer,
    beneath: str = "",
    without: tuple[str, ...] = (),
    money: Any = Amount,
    sizes: Any = Millimetres,
) -> type[AnswerModel]:
    """The fields that its draft declares and a row keeps, found under `beneath` in a view, and those of `extra`.

    Sizes and masses are sent as plain numbers, with their unit in the name: `wire_mm`, `mass_g`. What the draft brings
    along but the answer says otherwise is named by `without`. `money` and `sizes` are the types of those.
    """
    fields: dict[str, Any] = {}
    hints = get_type_hints(draft)
    for field_name, declared in fields_of(draft).items():
        if not declared.in_row or isinstance(declared, Beside) or field_name in without:
            continue
        sent_as, kind = _sent_as(field_name, declared, hints[field_name], money, sizes)
        path = (beneath, field_name) if beneath else (field_name,)
        where = AliasPath(*path) if beneath or sent_as != field_name else None
        fields[sent_as] = (kind, Field(validation_alias=where))
    return create_model(name, __base__=extra, __doc__=says or draft.__doc__, **fields)


class _View:
    """A view together with what stands beside it."""

    def __init__(self, view: object, beside: Mapping[str, object]) -> None:
        self._view, self._beside = view, beside

    def __getattr__(self, name: str) -> object:
        return self._beside[name] if name in self._beside else getattr(self._view, name)


def together(view: object, **beside: object) -> object:
    """A view of a list with what stands beside it, to be filled from."""
    return _View(view, beside)


def filled(model: type[A], view: object = None, *, currency: str = "", **beside: object) -> A:
    """An answer filled from a view and from what is named beside it."""
    whole = _View(view, beside) if beside else view
    return model.model_validate(whole, context={"currency": currency, **beside})


def sent(model: type[BaseModel], view: object = None, *, currency: str = "", **beside: object) -> dict[str, object]:
    """An answer filled and made of plain JSON values, as a call that writes hands it on."""
    return filled(model, view, currency=currency, **beside).model_dump(mode="json")


def _sent_as(name: str, declared: Declared, hint: Any, money: Any, sizes: Any) -> tuple[str, Any]:
    """What a field is called in an answer, and its type there."""
    if isinstance(declared, Money) and money is not Amount:
        return name, money if declared.required else money | None
    if isinstance(declared, Size):
        return f"{name.removesuffix('_nm')}_mm", sizes if declared.required else sizes | None
    if isinstance(declared, Mass):
        return f"{name.removesuffix('_ug')}_g", Grams if declared.required else Grams | None
    return name, hint if isinstance(declared, Own) else _type_of(declared)


def _type_of(declared: Declared) -> Any:
    optional = not declared.needed and getattr(declared, "default", ...) is None
    plain_types: dict[type[Declared], Any] = {
        Text: str, Choice: str, Flag: bool, Whole: int, Identity: int, Money: Amount,
    }  # fmt: skip
    if isinstance(declared, Rows):
        return list[answer_of(f"{declared.one.title().replace('_', '')}Out", declared.of)]  # type: ignore[misc]
    kind = plain_types.get(type(declared), PlainNumber)
    return kind | None if optional and kind is not str else kind

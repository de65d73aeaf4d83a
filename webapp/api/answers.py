"""Answers of the API as models that fill themselves from what queries give: no field is written out by hand.

`answer_of` takes the fields that a noun declares (`models/intake/fields`) into an answer; the rest are ordinary fields
whose `AliasPath` says where in the view they stand. Money takes the shop's currency from the context of `filled`.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import (
    AliasPath,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    create_model,
)

from models.intake.fields import Choice, Declared, Flag, Identity, Money, Rows, Text, Whole, fields_of
from webapp.api.shapes import MoneyOut, money_out
from webapp.web.json_api import plain

A = TypeVar("A", bound=BaseModel)


def _with_currency(value: object, info: ValidationInfo) -> object:
    return money_out(value, info.context["currency"]) if isinstance(value, Decimal) and info.context else value


Amount = Annotated[MoneyOut, BeforeValidator(_with_currency)]
"""An exact amount, filled from a Decimal in the shop's currency."""
PlainNumber = Annotated[float | int, BeforeValidator(plain), WithJsonSchema({"type": "number"})]
"""A JSON number, filled from a Decimal: whole ones without a fraction."""


class AnswerModel(BaseModel):
    """What every answer has: it is filled from attributes, and nothing stands in it that is not described."""

    model_config = ConfigDict(extra="forbid", from_attributes=True, populate_by_name=True)


def answer_of(
    name: str, draft: type[Any], *, says: str = "", extra: type[AnswerModel] = AnswerModel, beneath: str = ""
) -> type[AnswerModel]:
    """The fields that its draft declares, found under `beneath` in a view, and those of `extra`."""
    fields: dict[str, Any] = {}
    for field_name, declared in fields_of(draft).items():
        where = AliasPath(beneath, field_name) if beneath else None
        fields[field_name] = (_type_of(declared), Field(validation_alias=where))
    return create_model(name, __base__=extra, __doc__=says or draft.__doc__, **fields)


def filled(model: type[A], view: object, *, currency: str) -> A:
    """An answer filled from a view."""
    return model.model_validate(view, context={"currency": currency})


def _type_of(declared: Declared) -> Any:
    optional = not declared.needed and getattr(declared, "default", ...) is None
    plain_types: dict[type[Declared], Any] = {
        Text: str, Choice: str, Flag: bool, Whole: int, Identity: int, Money: Amount,
    }  # fmt: skip
    if isinstance(declared, Rows):
        return list[answer_of(f"{declared.one.title().replace('_', '')}Out", declared.of)]  # type: ignore[misc]
    kind = plain_types.get(type(declared), PlainNumber)
    return kind | None if optional and kind is not str else kind

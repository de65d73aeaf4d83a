"""Fields that the API sends as plain numbers, read under the names that take text too; faults are named as sent."""

from __future__ import annotations

from collections.abc import Mapping

from models.intake.faults import Fault, Faults

PLAIN_NAMES = {
    "width_mm": "width", "height_mm": "height", "length_mm": "length", "measured_mass_g": "measured_weight",
    "wire_mm": "wire", "inner_mm": "inner",
}  # fmt: skip
"""Fields that the API sends as plain numbers, by the name under which they are also read as text with a unit."""
NESTED = ("parts", "palette")
"""Lists of things that have such fields of their own."""


def with_plain_names(fields: Mapping[str, object]) -> dict[str, object]:
    """The fields with plain numbers under the names that are read; a field that is sent both ways counts as text."""
    renamed: dict[str, object] = {}
    for name, value in fields.items():
        if name in PLAIN_NAMES:
            renamed.setdefault(PLAIN_NAMES[name], value)
        elif name in NESTED and isinstance(value, list):
            renamed[name] = [with_plain_names(part) if isinstance(part, Mapping) else part for part in value]
        elif name == "rows" and isinstance(value, Mapping):
            renamed[name] = with_plain_names(value)
        else:
            renamed[name] = value
    return renamed


def as_sent(faults: Faults, body: Mapping[str, object]) -> Faults:
    """Faults beside the fields as the body named them: 'parts.0.wire_mm' where the wire was sent as a plain number."""
    return Faults(tuple(Fault(_sent_as(fault.field, body), fault.message) for fault in faults))


def _sent_as(field: str, body: Mapping[str, object]) -> str:
    path, _, last = field.rpartition(".")
    holder: object = body
    for step in path.split(".") if path else ():
        if isinstance(holder, Mapping):
            holder = holder.get(step)
        elif isinstance(holder, list) and step.isdigit() and int(step) < len(holder):
            holder = holder[int(step)]
    names = [name for name, plain in PLAIN_NAMES.items() if plain == last]
    if isinstance(holder, Mapping) and last not in holder:
        last = next((name for name in names if name in holder), last)
    return f"{path}.{last}" if path else last

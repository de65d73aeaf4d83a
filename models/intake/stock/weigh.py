"""What people hand in about a bag on the scale: its weight, its tare, and counted samples; from a form or JSON.

Nothing here knows what a ring weighs, or how sure a count is: that is worked out where the shop is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.intake.stock.item import find_metal, metal_trouble
from models.intake.stock.place import read_place
from models.trade.metals import METALS, Metal
from models.trade.rings import RingSize, absurd
from models.trade.vocabulary.ledger import MASS_SOURCES

MOST_SAMPLES: Final = 30
MOST_SAMPLE_RINGS: Final = 100_000
_STEP: Final = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class CountedSample:
    """So many counted rings weighed together, in micrograms, without a bag."""

    rings: int
    mass_ug: int


@dataclass(frozen=True, slots=True)
class WeighDraft:
    """A bag on the scale, in micrograms.

    What is in it is said by a lot (with `place` for one of its bags), by a stock item, or by a ring's size and metal;
    with a sample nothing more is needed. `step_ug` is the step of the scale's display. `scatter` is the stated
    deviation from ring to ring, as a share; None leaves it to the samples. `sample_in_bag`: the counted rings lie in
    the bag again.
    """

    gross_ug: int
    tare_ug: int
    step_ug: int
    samples: tuple[CountedSample, ...] = ()
    mass_from: str = ""
    scatter: float | None = None
    sample_in_bag: bool = False
    lot_id: int | None = None
    place: str | None = None
    item_id: int | None = None
    size: RingSize | None = None
    metal: Metal | None = None


def read_weigh(
    raw: Raw, *, metals: Mapping[str, Metal] = METALS, step_ug: int = 10_000, length_unit: str = "mm"
) -> WeighDraft | Faults:
    """Read a weighing; `step_ug` is the shop's own scale, for when no other step is said.

    One sample may be handed in by itself, several as a list.
    """
    reader = Reader(_with_samples(raw), length_unit=length_unit)
    gross = reader.mass("gross_g")
    tare = reader.mass("tare_g", required=False) or 0
    step = reader.mass("scale_step_g", required=False) if reader.has("scale_step_g") else step_ug
    if step is not None and step < 1:
        reader.fault("scale_step_g", f"Give the step of your scale's display, such as {_STEP} g.")
    samples = tuple(one for one in reader.each("sample", _sample) if one is not None)
    if len(samples) > MOST_SAMPLES:
        reader.fault("sample", f"Give at most {MOST_SAMPLES} samples.")
    mass_from = reader.choice("mass_from", ("", *MASS_SOURCES), default="")
    if mass_from == "sample" and not samples and reader.faults() is None:
        reader.fault("sample.0.rings", "Count some rings, such as 20, and weigh them together.")
    scatter = reader.percent("scatter_percent", required=False)
    size, metal = _ring(reader, metals)
    draft = WeighDraft(
        gross_ug=gross or 0,
        tare_ug=tare,
        step_ug=step or step_ug,
        samples=samples,
        mass_from=mass_from,
        scatter=None if scatter is None else float(scatter) / 100,
        sample_in_bag=reader.flag("sample_in_bag"),
        lot_id=reader.identity("lot_id", required=False),
        place=read_place(reader, "place"),
        item_id=reader.identity("item_id", required=False),
        size=size,
        metal=metal,
    )
    said = draft.lot_id is not None or draft.item_id is not None or draft.size is not None or draft.samples
    if not said and reader.faults() is None:
        reader.fault("sample", "Say what is in the bag: a lot, an item, a ring's size and metal, or a counted sample.")
    return reader.faults() or draft


def _with_samples(raw: Raw) -> Raw:
    """The same with a single sample made a list of one, so that there is one way to read it."""
    sample = raw.get("sample")
    if isinstance(sample, Mapping):
        return {**raw, "sample": [sample]}
    return {**raw, "sample": []} if sample in (None, "") else raw


def _sample(reader: Reader) -> CountedSample | None:
    """Read one sample; a row that was left empty is none."""
    if not reader.has("rings") and not reader.has("mass_g"):
        return None
    rings = reader.integer("rings", least=1, most=MOST_SAMPLE_RINGS)
    mass = reader.mass("mass_g")
    if mass is not None and mass < 1:
        reader.fault("mass_g", "The scale shows nothing for these. Count more of them, or use a finer scale.")
        return None
    return CountedSample(rings, mass) if rings is not None and mass is not None else None


def _ring(reader: Reader, metals: Mapping[str, Metal]) -> tuple[RingSize | None, Metal | None]:
    """Read a ring's size and metal where any of them is said; then all three are needed."""
    if not any(reader.has(field) for field in ("wire", "inner", "metal")):
        return None, None
    wire, inner = reader.wire("wire"), reader.inner("inner")
    words = reader.text("metal", required="Choose what it is made of.", most=80)
    metal = find_metal(words, metals) if words else None
    if words and metal is None:
        reader.fault("metal", metal_trouble(words, metals))
    size = RingSize(wire.nm, inner.nm) if wire and inner else None
    wrong = absurd(size) if size else None
    if wrong:
        reader.fault("inner", wrong)
    return size, metal

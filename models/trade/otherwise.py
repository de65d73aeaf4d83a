"""What stock and leavings would be worth had something been booked otherwise: movements followed once more.

One thing is changed at the start: what a receipt cost (a correction of its cost), or that an act was there at all (an
undo). The difference in value then rides along as value does in `lots`: what leaves n out of q takes the share that n
out of q has of it, the last takes the rest; what comes back brings back what it took; a surplus is valued as its lot
or pool is, so it takes part in it too. What is still in the lot or pool at the end is what belongs to what is left
there; the rest left with what left, and is told by whose doing.

This is exact, not a rule of thumb: shares are linear in value, so following the difference alone gives the same as
booking everything anew with the right cost, but for the roundings of single movements to a millionth. Under 'fifo' the
difference stays in its lot, under 'average' it is the pool's: the part of it that belongs to what is here is
difference x (1 - n1/q1) x (1 - n2/q2) ..., whichever lots were taken from and whatever came in between.

Differences are kept in billionths of a millionth, so that following many movements loses nothing that could be seen.
Not here: rows, words and who may take what back (operations).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from models.trade.lots import Method, half_even
from models.trade.vocabulary.ledger import LEAVING

FINE = 10**9
"""So many parts has a millionth here."""
SLACK_MICROS = 100
"""Two ways to the same value may lie this far apart by roundings alone: a hundredth of a cent, as for a pool's lots."""
_CORRECTING = frozenset({"correction", "carried"})

Whose = tuple[str, int]
"""By whose doing something left: ('build', 3) or ('act', 12); ('lot', 4) for what an average mixed into that lot."""


@dataclass(frozen=True, slots=True)
class Step:
    """One movement as it was booked, in thousandths and millionths, signed; `method` valued it."""

    id: int
    whose: Whose
    lot_id: int
    kind: str
    quantity_milli: int
    value_micros: int
    method: Method
    reverses_id: int | None = None


@dataclass(frozen=True, slots=True)
class Corrected:
    """The lot whose receipt cost something else: what was booked for it at first, and what it really cost."""

    lot_id: int
    received_milli: int
    booked_micros: int
    real_micros: int


@dataclass(slots=True)
class _Level:
    """What a lot holds, and what is different about it: `less_milli` that would not be there, `more` value in parts."""

    milli: int = 0
    micros: int = 0
    less_milli: int = 0
    more: int = 0


@dataclass(slots=True)
class _Out:
    """What is out of one lot by one doing, and the difference that it carries."""

    milli: int = 0
    carried: int = 0


@dataclass(slots=True)
class Otherwise:
    """The lots of an item, followed movement by movement, beside what they would be worth otherwise.

    `possible` turns False when more left than would have been there.
    """

    lots: dict[int, _Level]
    corrected: Corrected | None = None
    pooled: bool = False
    possible: bool = True
    _pool: _Level = field(default_factory=_Level)
    _moved: dict[int, int] = field(default_factory=dict)
    _doing: dict[int, Whose] = field(default_factory=dict)
    _out: dict[tuple[Whose, int], _Out] = field(default_factory=dict)
    _gone: dict[Whose, int] = field(default_factory=dict)
    _correcting: set[int] = field(default_factory=set)
    _costing: set[int] = field(default_factory=set)
    _cost_micros: int = 0

    @classmethod
    def receipt_cost(cls, lots: Mapping[int, tuple[int, int]], corrected: Corrected) -> Otherwise:
        """Start when a receipt was just booked (the lots hold it already), had it cost what it really did."""
        levels = {lot_id: _Level(milli, micros) for lot_id, (milli, micros) in lots.items()}
        levels[corrected.lot_id].more = (corrected.real_micros - corrected.booked_micros) * FINE
        return cls(levels, corrected, _cost_micros=corrected.booked_micros)

    @classmethod
    def without(cls, lots: Mapping[int, tuple[int, int]], brought: Mapping[int, tuple[int, int]]) -> Otherwise:
        """Start when an act was just booked (the lots hold what it brought), had it never been there."""
        levels = {lot_id: _Level(milli, micros) for lot_id, (milli, micros) in lots.items()}
        for lot_id, (milli, micros) in brought.items():
            levels[lot_id].less_milli, levels[lot_id].more = milli, -micros * FINE
        return cls(levels)

    # --- following ---

    def follow(self, steps: Iterable[Step]) -> Otherwise:
        """Follow movements, in the order in which they were booked; answers itself."""
        for step in steps:
            self._follow(step)
        return self

    def _follow(self, step: Step) -> None:
        self._value_by(step.method)
        lot = self.lots.setdefault(step.lot_id, _Level())
        whose = self._doing.get(step.reverses_id, step.whose) if step.reverses_id is not None else step.whose
        moved = self._change(step, lot)
        self._moved[step.id], self._doing[step.id] = moved, whose
        lot.milli += step.quantity_milli
        lot.micros += step.value_micros
        self._pool.milli += step.quantity_milli
        self._pool.micros += step.value_micros
        (self._pool if self.pooled else lot).more += moved
        if step.id in self._correcting:
            return
        self._gone[whose] = self._gone.get(whose, 0) - moved
        if step.kind in LEAVING or step.kind == "return" or step.reverses_id in self._moved:
            out = self._out.setdefault((whose, step.lot_id), _Out())
            out.milli -= step.quantity_milli
            out.carried -= moved

    def _change(self, step: Step, lot: _Level) -> int:
        """How much difference a movement brings into its lot or pool; below zero for what it takes along."""
        milli = step.quantity_milli
        if step.reverses_id is not None:
            if step.reverses_id in self._correcting:
                self._correcting.add(step.id)
            if step.reverses_id in self._costing:
                self._cost_micros += step.value_micros
            return -self._moved.get(step.reverses_id, 0)
        if step.kind in _CORRECTING:
            return self._corrects(step)
        if step.kind == "return":
            return self.brings_back(step.whose, step.lot_id, milli)
        if step.kind in LEAVING or step.kind == "count":
            return self._share(step.lot_id, lot, milli)
        return 0

    def brings_back(self, whose: Whose, lot_id: int, milli: int) -> int:
        """The difference that comes back with so much of what left a lot by one doing, in parts of a millionth."""
        out = self._out.get((whose, lot_id))
        if out is None or out.milli <= 0:
            return 0
        return half_even(out.carried * min(milli, out.milli), out.milli)

    def took(self, movement_id: int) -> int:
        """The difference that one movement brought in, below zero for what it took along; in parts of a millionth."""
        return self._moved.get(movement_id, 0)

    def _corrects(self, step: Step) -> int:
        """What a correction of the very receipt that is followed put right already is no difference any more."""
        if self.corrected is None or step.lot_id != self.corrected.lot_id:
            return 0
        self._correcting.add(step.id)
        if step.kind == "correction":
            self._costing.add(step.id)
            self._cost_micros += step.value_micros
        return -step.value_micros * FINE

    def _share(self, lot_id: int, lot: _Level, milli: int) -> int:
        """What leaves, or is found, takes or brings its share of the difference."""
        at = self._pool if self.pooled else lot
        there = at.milli - at.less_milli
        if milli > 0 and not at.milli:
            return self._found_in_nothing(lot_id, milli)
        if milli < 0 and there < -milli:
            self.possible = False
            return 0
        if not there or not at.milli:
            return 0
        otherwise = half_even((at.micros * FINE + at.more) * milli, there)
        return otherwise - half_even(at.micros * FINE * milli, at.milli)

    def _found_in_nothing(self, lot_id: int, milli: int) -> int:
        """What is found in an emptied lot or pool is valued by the lot's own receipt as it stood then."""
        one = self.corrected
        if one is None or lot_id != one.lot_id or not one.received_milli:
            return 0
        return half_even((one.real_micros - self._cost_micros) * FINE * milli, one.received_milli)

    def _value_by(self, method: Method) -> None:
        """Mix the difference into one pool, or part the pool again, where the way of valuing changed."""
        if method == "average" and not self.pooled:
            self.pooled = True
            self._pool = _Level(
                sum(lot.milli for lot in self.lots.values()),
                sum(lot.micros for lot in self.lots.values()),
                sum(lot.less_milli for lot in self.lots.values()),
                sum(lot.more for lot in self.lots.values()),
            )
        elif method == "fifo" and self.pooled:
            self._part()

    def _part(self) -> None:
        """Give every lot its share of the pool's difference, the largest the rest."""
        self.pooled = False
        pool, left = self._pool, self._pool.more
        there = pool.milli - pool.less_milli
        for lot in self.lots.values():
            lot.more = 0
            if there > 0 and pool.milli and lot.milli:
                lot.more = half_even((pool.micros * FINE + pool.more) * (lot.milli - lot.less_milli), there)
                lot.more -= half_even(pool.micros * FINE * lot.milli, pool.milli)
            left -= lot.more
        if self.lots:
            max(self.lots.values(), key=lambda lot: lot.milli).more += left

    # --- answers ---

    def here_micros(self, method: Method) -> int:
        """What belongs to what is still here, in whole millionths, half to even: in the lot, or in the pool.

        Never so much that less than nothing would be left.
        """
        if self.corrected is None:
            raise ValueError("only a receipt that cost something else has a difference here")
        self._value_by(method)
        at = self._pool if self.pooled else self.lots[self.corrected.lot_id]
        return max(half_even(at.more, FINE), -at.micros) if at.milli else 0

    def there(self, lot_id: int) -> tuple[int, int]:
        """What there is to re-value when all was followed: thousandths and millionths of the pool, or of the lot."""
        at = self._pool if self.pooled else self.lots.get(lot_id, _Level())
        return at.milli, at.micros

    @property
    def put_right_micros(self) -> int:
        """What corrections of the receipt and what followed from them have put right in the lots so far."""
        return -sum(self._moved[movement_id] for movement_id in self._correcting) // FINE

    def gone_parts(self) -> dict[Whose, int]:
        """What left, by whose doing, in parts of a millionth; under 'fifo' what an average put into other lots too."""
        found = {whose: parts for whose, parts in self._gone.items() if parts}
        if not self.pooled:
            own = self.corrected.lot_id if self.corrected else None
            found |= {("lot", lot_id): lot.more for lot_id, lot in self.lots.items() if lot.more and lot_id != own}
        return found

    @property
    def leaves_false_costs(self) -> bool:
        """Whether anything that left would have cost something else, beyond roundings, or could not have left."""
        parts = self._gone.values()
        most = SLACK_MICROS * FINE
        return not self.possible or abs(sum(parts)) > most or any(abs(part) > most for part in parts)


def whole_micros(parts: Sequence[int], total_micros: int) -> tuple[int, ...]:
    """Return parts of a millionth as whole millionths that add up to a total; the largest remainders get what is over.

    A total further off than one for each part (values that stopped at nothing) lands on the largest part.
    """
    if not parts:
        return ()
    whole = [part // FINE for part in parts]
    over = total_micros - sum(whole)
    largest = max(range(len(parts)), key=lambda each: abs(parts[each]))
    if not 0 <= over <= len(parts):
        whole[largest] += over
        return tuple(whole)
    by_remainder = sorted(range(len(parts)), key=lambda each: (-(parts[each] % FINE), each))
    for each in by_remainder[:over]:
        whole[each] += 1
    return tuple(whole)

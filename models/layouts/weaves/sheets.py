"""The weaves that are laid in rows, one record each: a new one of these kinds is a row here and one in the catalogue.

Not here: its name, aspect ratios and difficulty (models/trade/weaves), what a kind of sheet does (european, hubs).
"""

from __future__ import annotations

from models.layouts.weaves.european import EuropeanWeave
from models.layouts.weaves.hubs import HubWeave
from models.layouts.weaves.sheet_weave import SheetWeave

EUROPEAN_4 = "european-4-in-1"
EUROPEAN_6 = "european-6-in-1"
EUROPEAN_8 = "european-8-in-1"
JAPANESE_12 = "japanese-12-in-2"

# Source: reach and the smallest clear aspect ratio were derived and solved numerically in this project; the tests hold
# both against linking numbers and distances. The Japanese sheet is the triangular lattice of its hubs.
_ROWS: tuple[SheetWeave, ...] = (
    EuropeanWeave(EUROPEAN_4, steps_per_ring=2, reach=(-1, 1), clear_from=2.9961, share=1),
    EuropeanWeave(EUROPEAN_6, steps_per_ring=1, reach=(-1, 0, 1), clear_from=4.4436, share=2),
    EuropeanWeave(EUROPEAN_8, steps_per_ring=2, reach=(-3, -1, 1, 3), clear_from=5.9364, share=3),
    HubWeave(JAPANESE_12, steps_per_ring=2, reach=(-1, 1), clear_from=4.9851, rings=2),
)

SHEETS: dict[str, SheetWeave] = {each.code: each for each in _ROWS}

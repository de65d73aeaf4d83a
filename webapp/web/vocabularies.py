"""The vocabularies whose words templates show, by the names that templates call them by (`vocabulary.item_kinds`)."""

from __future__ import annotations

from collections.abc import Mapping

from models.trade.vocabulary.bench import BUILD_STATES, CUTS, TIMING_ANSWERS
from models.trade.vocabulary.ledger import ROUGH
from models.trade.vocabulary.plans import ALLOWANCES, DESIGN_ORDERS, PART_CHANGES, PURCHASE_STATES
from models.trade.vocabulary.selling import GAUGE_SYSTEMS, LENGTH_UNITS, OVERHEAD_MODES, STANDINGS
from models.trade.vocabulary.things import ARRIVALS, FIT_VERDICTS, ITEM_KINDS, PART_KINDS, UNITS

VOCABULARIES: Mapping[str, object] = {
    "allowances": ALLOWANCES,
    "arrivals": ARRIVALS,
    "build_states": BUILD_STATES,
    "cuts": CUTS,
    "design_orders": DESIGN_ORDERS,
    "fit_verdicts": FIT_VERDICTS,
    "gauge_systems": GAUGE_SYSTEMS,
    "item_kinds": ITEM_KINDS,
    "length_units": LENGTH_UNITS,
    "overhead_modes": OVERHEAD_MODES,
    "part_changes": PART_CHANGES,
    "part_choices": [(kind, ITEM_KINDS.term(kind).label) for kind in PART_KINDS],
    "purchase_states": PURCHASE_STATES,
    "purchase_tabs": [(state, term.tab) for state, term in PURCHASE_STATES.terms.items() if term.tab],
    "rough": ROUGH,
    "standings": STANDINGS,
    "timing_answers": TIMING_ANSWERS,
    "units": UNITS,
}

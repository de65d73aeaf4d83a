"""Settings: the pages of the shop's own settings and of how long work takes. What they mean lives in `models`."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.costing.rates import STARTING_RATES
from models.errors import fit
from models.intake.costing.rate import RateDraft, read_rates
from models.intake.fields import raw_of
from models.intake.shop.shop import read_settings
from models.operations.costing.rate import rates_version, set_rates
from models.operations.shop.shop import change_settings
from models.queries.shop.shop import RateView, SettingsPage, learned_rates, settings_page, shop_settings
from models.trade.vocabulary.selling import PRICE_ENDINGS
from webapp.pages.shop import choices
from webapp.web.acting import Done, submits
from webapp.web.form_values import form_values
from webapp.web.forms import Form, RawForm
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/settings")
def settings(request: Request) -> Response:
    """The settings of the shop."""
    return _settings(request, None)


@router.post("/settings")
@submits(lambda request, form: _settings(request, form))
def change(session: Session, raw: RawForm) -> Done:
    """Save the settings."""
    draft = fit(read_settings(raw.raw(), length_unit=shop_settings(session).length_unit))
    change_settings(session, draft, version=raw.version)
    return Done("/settings", "The settings are saved, and every price was worked out again.")


@router.get("/settings/times")
def times(request: Request) -> Response:
    """How long each kind of work takes."""
    return _times(request, None)


@router.post("/settings/times")
@submits(lambda request, form: _times(request, form))
def change_times(session: Session, raw: RawForm) -> Done:
    """Save the times that were changed."""
    drafts = fit(read_rates(raw.raw(), tuple(STARTING_RATES)))
    count = set_rates(session, drafts, version=raw.version)
    if not count:
        return Done("/settings/times", "These are the times that were kept already.")
    words = "One time is" if count == 1 else f"{count} times are"
    return Done("/settings/times", f"{words} saved, and every price was worked out again.")


def _settings(request: Request, form: Form | None) -> Response:
    view = settings_page(reading(request))
    kept = view.settings
    return render(
        request,
        "shop/settings.html",
        view,
        form=form or Form.blank(form_values(kept, length_unit=kept.length_unit), version=kept.version),
        currencies=choices.currencies(),
        locales=choices.locales(kept.locale),
        time_zones=choices.time_zones(kept.time_zone),
        endings=PRICE_ENDINGS.choices,
    )


def _times(request: Request, form: Form | None) -> Response:
    session = reading(request)
    view, learned = settings_page(session), learned_rates(session)
    version = rates_version(view.rates)
    return render(
        request,
        "shop/times.html",
        view,
        form=form or Form.blank(_typed_rates(view), version=version),
        version=version,
        learned=learned,
    )


def _typed_rates(view: SettingsPage) -> dict[str, object]:
    return {"rates": [{**raw_of(RateDraft, rate), "seconds": span(rate)} for rate in view.rates]}


def span(rate: RateView) -> str:
    """A time as one would type it: minutes where they are whole and at least two, else seconds."""
    if rate.seconds >= 120 and rate.seconds % 60 == 0:
        return f"{int(rate.seconds // 60)} min"
    return f"{format(rate.seconds, 'f')} s"

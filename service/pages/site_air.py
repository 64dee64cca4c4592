"""Days of a site's air: typed in by hand from a thermometer on the shed."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.lib.clock import day_words
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.lib.temperatures import TempUnit, WhereDiffering
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import frame, plural, render
from service.trees import actions, queries
from service.trees.rules.air import TYPED_DAYS, days_to_type, read_air
from service.trees.schemas import AirRecordCreate, AirTaken

router = APIRouter(route_class=PageRoute)
Planter = Annotated[Asker, may(May.TREES)]


@router.get("/sites/{site_id}/air")
def get_air(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    return _air_page(request, session, asker, site_id, Form(unit=TempUnit.C.value))


def _air_page(request: Request, session: Read, asker: Asker, site_id: UUID, form: Form) -> Response:
    last, measured = queries.last_air(session, site_id)
    today = frame(request).today
    if form.data is None:
        days = {f"day.{place}": day for place, day in enumerate(days_to_type(last, today)) if day <= today}
        form.defaults |= {**days, "measured": measured}
    return render(
        request, "sites/air.html", asker=asker, form=form, site=queries.get_site(session, site_id), last=last,
        rows=range(TYPED_DAYS),
    )  # fmt: skip


@router.post("/sites/{site_id}/air")
async def post_air(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    """Up to a week as it was written down beside the thermometer, whole or not at all."""
    form = await read_form(request)

    async def save() -> AirTaken:
        body = form.into(
            AirRecordCreate, "measured", id=form.id("form_key"), days=_typed(form),
            where_differing=form.text("where_differing") or WhereDiffering.REFUSE,
        )  # fmt: skip
        return await form.write(actions.record_air, asker, site_id, body)

    return await submitted(
        request, form, save, lambda taken: (f"/sites/{site_id}#air", taken_words(taken)),
        lambda: _air_page(request, session, asker, site_id, form),
    )  # fmt: skip


def _typed(form: Form) -> list[dict[str, Any]]:
    """The rows that were filled in. Raises `WrongFields`, each with its day."""
    unit, wrong, days = form.text("unit"), dict[str, str](), dict[date, tuple[float, float]]()
    if unit not in set(TempUnit):
        raise WrongFields({"unit": "say whether the thermometer shows °C or °F"})
    for place in range(TYPED_DAYS):
        told = [form.text(f"{name}.{place}") for name in ("day", "lowest", "highest")]
        if not any(told[1:]):
            continue
        try:
            day = date.fromisoformat(told[0])
        except ValueError:
            wrong[f"day.{place}"] = f"row {place + 1}: say which day it was"
            continue
        try:
            air = read_air(told[1], told[2], unit)
        except ValueError as error:
            wrong[f"lowest.{place}"] = f"{day_words(day)}: {error}"
            continue
        if day in days:
            wrong[f"day.{place}"] = f"{day_words(day)} stands there twice"
        elif air:
            days[day] = air
    if not wrong and not days:
        wrong["lowest.0"] = "type the lowest and the highest of at least one day"
    if wrong:
        raise WrongFields(wrong)
    return [{"day": day, "lowest_c": low, "highest_c": high} for day, (low, high) in days.items()]


def taken_words(taken: AirTaken) -> str:
    parts = [f"{plural(taken.new, 'day')} came into the record"]
    parts += [f"{plural(taken.same, 'day')} stood there already"] if taken.same else []
    parts += [f"{plural(taken.changed, 'day')} put right"] if taken.changed else []
    parts += [f"{plural(taken.kept, 'day')} left as the record had it"] if taken.kept else []
    return ", ".join(parts) + "."

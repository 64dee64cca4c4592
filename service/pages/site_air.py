"""Days of a site's air: typed in by hand from a thermometer on the shed, or brought as a file of a station."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Any
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Request, Response

from service.lib.clock import day_words
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.lib.sent_files import Prepared
from service.lib.temperatures import TempUnit, WhereDiffering
from service.members.queries import club
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import frame, plural, render
from service.trees import actions, queries
from service.trees.rules.air import TYPED_DAYS, days_to_type, last_over, read_air
from service.trees.rules.air_files import AirTold, check_likely
from service.trees.schemas import AirFileSummary, AirFileTake, AirFormSet, AirRecordCreate, AirTaken

router = APIRouter(route_class=PageRoute)
SHOWN = 30
AROUND = timedelta(days=28)  # days that a typed week is looked at together with
LEAST_MEASURED, MOST_MEASURED = 3, 500  # letters
Planter = Annotated[Asker, may(May.TREES)]


@router.get("/sites/{site_id}/air")
def get_air(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    return _air_page(request, session, asker, site_id, Form())


def _air_page(request: Request, session: Read, asker: Asker, site_id: UUID, form: Form) -> Response:
    last, measured = queries.last_air(session, site_id)
    over_to = last_over(request.app.state.clock.now(), frame(request).zone)
    days = {f"day.{place}": day for place, day in enumerate(days_to_type(last, over_to))}
    blank = Form(unit=TempUnit.C.value, measured=measured, measured_file=measured)
    blank.defaults |= days
    is_file, is_week = ("measured_file" in form.names(), "measured" in form.names())
    return render(
        request, "sites/air.html", asker=asker, form=form, week=form if is_week else blank, brought=form if is_file else blank,
        site=queries.get_site(session, site_id), last=last, over_to=over_to, rows=range(TYPED_DAYS),
        files=queries.list_air_files(session, site_id, SHOWN),
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
        told = {each.day: (each.lowest_c, each.highest_c) for each in body.days}
        with form.reading() as apart:
            around = queries.air_days(apart, site_id, min(told) - AROUND, max(told) + AROUND)
        check_likely(told, {day: air[:2] for day, air in around.items()}, sure=form.text("stuck") == "true")
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


# -- a file ------------------------------------------------------------------------------------------------------------


@router.post("/sites/{site_id}/air/files")
async def post_air_file(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    """A file of a station or a logger; it waits until somebody has looked at it."""
    form = await read_form(request)

    async def save() -> AirFileSummary:
        sent, measured = form.upload("file"), form.text("measured_file")
        if sent is None:
            raise WrongFields({"file": "choose the file"})
        if len(measured) < LEAST_MEASURED:
            raise WrongFields({"measured_file": "say which station or thermometer it is of"})
        name, raw = (sent.filename or "")[:200], await sent.read()
        read = await anyio.to_thread.run_sync(actions.read_sent_air, name, raw)
        return await form.write(
            actions.send_air_file, asker, site_id, form.id("form_key"), measured[:MOST_MEASURED], read
        )

    return await submitted(
        request, form, save, lambda made: (f"/air-files/{made.id}", "Nothing of it is in the record yet: look at it first."),
        lambda: _air_page(request, session, asker, site_id, form),
    )  # fmt: skip


@router.get("/air-files/{air_file_id}")
def get_air_file(request: Request, session: Read, asker: Planter, air_file_id: UUID) -> Response:
    return _file_page(request, session, asker, air_file_id, Form())


def _file_page(request: Request, session: Read, asker: Asker, file_id: UUID, form: Form) -> Response:
    file = queries.look_at_air_file(session, file_id, request.app.state.clock.now(), club(session).zone)
    how = form
    if "day" not in form.names():
        how = Form(**(file.form.model_dump() if file.form else {}))
        how.wrong = {file.problem_field: file.problem} if file.problem_field else {}
    return render(
        request, "sites/air_file.html", asker=asker, form=form, how=how, file=file, site=queries.get_site(session, file.site_id),
        headings=[(name, name) for name in file.columns if name],
    )  # fmt: skip


@router.post("/air-files/{air_file_id}/form")
async def post_air_form(request: Request, session: Read, asker: Planter, air_file_id: UUID) -> Response:
    """Which column is what; it is remembered for the site's next file."""
    form = await read_form(request)

    async def save() -> AirFileSummary:
        body = form.into(AirFormSet, *AirFormSet.model_fields)
        return await form.write(actions.set_air_form, asker, air_file_id, body)

    return await submitted(
        request, form, save, lambda _: (f"/air-files/{air_file_id}", "How it is read is written down; nothing of it is in the record yet."),
        lambda: _file_page(request, session, asker, air_file_id, form),
    )  # fmt: skip


@router.post("/air-files/{air_file_id}/take")
async def post_air_take(request: Request, session: Read, asker: Planter, air_file_id: UUID) -> Response:
    """Whole or not at all; what is odd about it is answered first."""
    form = await read_form(request)
    state = request.app.state

    def prepared() -> Prepared[AirTold | None]:
        with state.database.reading() as apart:
            return queries.prepare_air_file(apart, air_file_id, state.clock.now(), club(apart).zone)

    async def save() -> AirFileSummary:
        ticks = {name: form.text(name) == "true" for name in ("leave_faulty", "stuck", "sure")}
        body = form.into(AirFileTake, "where_differing", **ticks)
        plan = await anyio.to_thread.run_sync(prepared)
        return await form.write(actions.take_air_file, asker, air_file_id, body, plan)

    return await submitted(
        request, form, save, lambda made: (f"/air-files/{air_file_id}", f"{plural(made.added, 'day')} came into the record."),
        lambda: _file_page(request, session, asker, air_file_id, form),
    )  # fmt: skip


@router.post("/air-files/{air_file_id}/drop")
async def post_air_drop(request: Request, session: Read, asker: Planter, air_file_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> AirFileSummary:
        return await form.write(actions.drop_air_file, asker, air_file_id)

    return await submitted(
        request, form, save,
        lambda made: (f"/sites/{made.site_id}/air", "The file is thrown away; nothing of it was in the record."),
        lambda: _file_page(request, session, asker, air_file_id, form),
    )  # fmt: skip


@router.post("/air-files/{air_file_id}/taken-back")
async def post_air_back(request: Request, session: Read, asker: Planter, air_file_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> AirFileSummary:
        return await form.write(actions.take_air_file_back, asker, air_file_id)

    return await submitted(
        request, form, save, lambda _: (f"/air-files/{air_file_id}", "The file is taken back: its days are gone."),
        lambda: _file_page(request, session, asker, air_file_id, form),
    )  # fmt: skip

"""Loggers, and what one wrote: its file sent, looked at, and taken whole or not at all."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Request, Response

from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.lib.sent_files import Prepared
from service.members.queries import club
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.render import frame, plural, render
from service.storage import actions, queries
from service.storage.queries.odd_readings import odd_readings
from service.storage.rules import FileTold, Sensor
from service.storage.schemas import (
    FileFormSet,
    FileSummary,
    FileTake,
    LoggerCreate,
    LoggerMoveCreate,
    LoggerRead,
)

router = APIRouter(route_class=PageRoute)
Host = Annotated[Asker, may(May.STORE)]
IN_THE_FILE = "in the file"
MEASURES = ((Sensor.AIR.value, "the air of the store"), (Sensor.PACK.value, "inside a pack, with the wood"))


@router.get("/loggers")
def get_loggers(request: Request, session: Read, asker: Host, store: UUID | None = None) -> Response:
    return _loggers_page(request, session, asker, Form(store_id=store, sensor=Sensor.AIR.value))


def _loggers_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "store/loggers.html", asker=asker, form=form, loggers=queries.list_loggers(session, Paging(limit=100)),
        stores=choices.stores(session), boxes=choices.boxes(session), measures=MEASURES,
    )  # fmt: skip


@router.post("/loggers")
async def post_logger(request: Request, session: Read, asker: Host) -> Response:
    """A new logger, hung in its store at once."""
    form = await read_form(request)

    async def save() -> LoggerRead:
        body = form.into(LoggerCreate, "name", "serial", "sensor", id=form.id("form_key"), **_where(form))
        return await form.write(actions.add_logger, asker, body)

    return await submitted(
        request, form, save, lambda made: (f"/loggers/{made.id}", "The logger is in the record. Its first file?"),
        lambda: _loggers_page(request, session, asker, form),
    )  # fmt: skip


@router.get("/loggers/{logger_id}")
def get_logger(request: Request, session: Read, asker: Host, logger_id: UUID) -> Response:
    return _logger_page(request, session, asker, logger_id, Form())


def _logger_page(request: Request, session: Read, asker: Asker, logger_id: UUID, form: Form) -> Response:
    logger = queries.get_logger(session, logger_id)
    return render(
        request, "store/logger.html", asker=asker, form=form, logger=logger, odd=odd_readings(session, logger),
        files=queries.list_files(session, logger_id, Paging(limit=30)), stores=choices.stores(session),
        boxes=choices.boxes(session), measures=MEASURES,
    )  # fmt: skip


@router.post("/loggers/{logger_id}/hang")
async def post_hang(request: Request, session: Read, asker: Host, logger_id: UUID) -> Response:
    """Where it hangs from now on; what it wrote before stays with where it hung then."""
    form = await read_form(request)

    async def save() -> LoggerRead:
        where, since = _where(form), form.at("from_at", frame(request).zone)
        body = form.into(
            LoggerMoveCreate, "sensor", "note", id=form.id("form_key"), out=not where, from_at=since, **where
        )
        return await form.write(actions.hang_logger, asker, logger_id, body)

    return await submitted(
        request, form, save, lambda _: (f"/loggers/{logger_id}", "It is written down where it hangs."),
        lambda: _logger_page(request, session, asker, logger_id, form),
    )  # fmt: skip


def _where(form: Form) -> dict[str, UUID]:
    """The box, or the store without a box. Raises `WrongFields` where both are told."""
    box, store = id_of(form, "box_id", choices.boxes), id_of(form, "store_id", choices.stores)
    if box and store:
        raise WrongFields(
            {"box_id": "choose the box or the store, one of them: a box tells its store by itself"}
        )
    return box or store


@router.post("/loggers/{logger_id}/files")
async def post_file(request: Request, session: Read, asker: Host, logger_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> FileSummary:
        sent = form.upload("file")
        if sent is None:
            raise WrongFields({"file": "choose the file"})
        name, raw = (sent.filename or "")[:200], await sent.read()
        await anyio.to_thread.run_sync(actions.check_rows_of, raw)
        return await form.write(actions.send_file, asker, logger_id, form.id("form_key"), name, raw)

    return await submitted(
        request, form, save, lambda made: (f"/reading-files/{made.id}", "Nothing of it is in the record yet: look at it first."),
        lambda: _logger_page(request, session, asker, logger_id, form),
    )  # fmt: skip


# -- a file ------------------------------------------------------------------------------------------------------------


@router.get("/reading-files/{file_id}")
def get_file(request: Request, session: Read, asker: Host, file_id: UUID) -> Response:
    return _file_page(request, session, asker, file_id, Form())


def _file_page(request: Request, session: Read, asker: Asker, file_id: UUID, form: Form) -> Response:
    zone = club(session).zone
    file = queries.look_at_file(session, file_id, request.app.state.clock.now(), zone).file
    if form.data is None and file.form is not None:
        form.defaults |= {**file.form.model_dump(), "zone": file.form.zone or zone}
    return render(
        request, "store/reading_file.html", asker=asker, form=form, file=file, logger=queries.get_logger(session, file.logger_id),
        headings=[(name, name) for name in file.columns if name], zone_of_file=IN_THE_FILE,
    )  # fmt: skip


@router.post("/reading-files/{file_id}/form")
async def post_file_form(request: Request, session: Read, asker: Host, file_id: UUID) -> Response:
    """Which column is what; it is remembered for the logger's next file."""
    form = await read_form(request)

    async def save() -> FileSummary:
        names = ("time", "date", "temp", "humidity", "unit", "zone", "order", "only_column", "only_value")
        return await form.write(actions.set_file_form, asker, file_id, form.into(FileFormSet, *names))

    return await submitted(
        request, form, save, lambda _: (f"/reading-files/{file_id}", "It is read so now, and the next file of this logger too."),
        lambda: _file_page(request, session, asker, file_id, form),
    )  # fmt: skip


@router.post("/reading-files/{file_id}/take")
async def post_take(request: Request, session: Read, asker: Host, file_id: UUID) -> Response:
    """Whole or not at all; what is odd about it is answered first."""
    form = await read_form(request)
    state = request.app.state

    def prepared() -> Prepared[FileTold | None]:
        with state.database.reading() as apart:
            return queries.prepare_file(apart, file_id, state.clock.now())

    async def save() -> FileSummary:
        body = form.into(
            FileTake,
            "stuck",
            "copied",
            "where_differing",
            leave_faulty=form.text("leave_faulty") == "true",
            sure=form.text("sure") == "true",
        )
        plan = await anyio.to_thread.run_sync(prepared)
        return await form.write(actions.take_file, asker, file_id, body, plan)

    def then(made: FileSummary) -> tuple[str, str]:
        return f"/reading-files/{file_id}", f"{plural(made.added, 'reading')} came into the record."

    return await submitted(
        request, form, save, then, lambda: _file_page(request, session, asker, file_id, form)
    )  # fmt: skip


@router.post("/reading-files/{file_id}/drop")
async def post_drop(request: Request, session: Read, asker: Host, file_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> FileSummary:
        return await form.write(actions.drop_file, asker, file_id)

    return await submitted(
        request, form, save,
        lambda made: (f"/loggers/{made.logger_id}", "The file is thrown away; nothing of it was in the record."),
        lambda: _file_page(request, session, asker, file_id, form),
    )  # fmt: skip


@router.post("/reading-files/{file_id}/taken-back")
async def post_taken_back(request: Request, session: Read, asker: Host, file_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> FileSummary:
        return await form.write(actions.take_file_back, asker, file_id)

    return await submitted(
        request, form, save,
        lambda made: (f"/loggers/{made.logger_id}", "The file is taken back: its readings count no more."),
        lambda: _file_page(request, session, asker, file_id, form),
    )  # fmt: skip

"""Moving a club's own table in: send it, see how it is read, answer what it asks, take it whole."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

import anyio.to_thread
from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.lib.sent_files import Prepared
from service.lists import actions, queries
from service.lists.rules import (
    FIELDS,
    SORTS,
    STAYS_IN_THE_LEDGER,
    ListChanged,
    ListSort,
    ListState,
    columns_told,
)
from service.lists.schemas import (
    ListAnswersSet,
    ListFileRead,
    ListFileSummary,
    ListFormSet,
    ListTake,
    ListTakeBack,
)
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import acting, choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.long_lists import LONG_ROWS, Told, Work
from service.pages.render import render

router = APIRouter(route_class=PageRoute)
Mover = Annotated[Asker, may(May.PEOPLE)]
COLUMN, ANSWER = "column.", "answer."
ASKS = {
    "person": "Who is", "name": "Who is", "giver": "Who is", "days": "Which comes first, the day or the month, in",
    "store": "Which store is", "site": "Which site is", "area": "Which plant-health area is", "kind": "Which kind is",
    "variety": "Which variety is", "site_area": "In which plant-health area lies",
}  # fmt: skip

_WENT = {
    True: "what it brought is corrected to nothing, and the ledger keeps every line",
    False: "what it brought is gone",
}


@router.get("/lists")
def get_lists(request: Request, session: Read, asker: Mover, sort: ListSort | None = None) -> Response:
    return _lists_page(request, session, asker, Form(sort=sort.value if sort else None))


def _lists_page(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "lists/all.html", asker=asker, form=form, lists=queries.list_lists(session, Paging(limit=30)), sorts=SORTS,
        columns={sort: columns_told(sort) for sort in SORTS},
        sorts_offered=[(sort.value, words.name) for sort, words in SORTS.items()],
    )  # fmt: skip


@router.post("/lists")
async def post_lists(request: Request, session: Read, asker: Mover) -> Response:
    form = await read_form(request)

    async def save() -> ListFileSummary:
        sent = form.upload("file")
        if sent is None:
            raise WrongFields({"file": "choose the file"})
        if form.text("sort") not in {sort.value for sort in SORTS}:
            raise WrongFields({"sort": "say what its rows tell"})
        sort, name, raw = ListSort(form.text("sort")), (sent.filename or "")[:200], await sent.read()

        def look() -> Prepared[actions.SentList]:
            with form.reading() as apart:
                return actions.read_sent(apart, sort, name, raw)

        read = await anyio.to_thread.run_sync(look)
        return await form.write(actions.send_list, asker, form.id("form_key"), sort, read)

    return await submitted(
        request, form, save, lambda made: (f"/lists/{made.id}", "Nothing of it is in the record yet: look at it first."),
        lambda: _lists_page(request, session, asker, form),
    )  # fmt: skip


@router.get("/lists/{list_id}")
def get_list(request: Request, session: Read, asker: Mover, list_id: UUID, anew: bool = False) -> Response:
    """How a list is read; `anew` by what the record knows now, where a long one was read some minutes ago."""
    if anew:
        request.app.state.long_lists.forget_readings(list_id, asker.account_id)
        return RedirectResponse(f"/lists/{list_id}", status_code=303)
    return _list_page(request, session, asker, list_id, Form())


def _list_page(request: Request, session: Read, asker: Asker, list_id: UUID, form: Form) -> Response:
    row = queries.list_summary(queries.find_list(session, list_id))
    if row.state is ListState.WAITING and row.rows >= LONG_ROWS:
        return _long_page(request, session, asker, row, form)
    listed = queries.look_at_list(session, list_id, request.app.state.clock.now(), looker=asker)
    return _shown(request, session, asker, listed, form)


def _shown(request: Request, session: Read, asker: Asker, listed: ListFileRead, form: Form) -> Response:
    return render(
        request, "lists/one.html", asker=asker, form=form, listed=listed, kinds=choices.kinds(session), sites=choices.sites(session),
        areas=choices.every_area(session), sort_words=SORTS[listed.sort], in_ledger=listed.sort in STAYS_IN_THE_LEDGER, asks=ASKS,
        days={one.name for one in FIELDS[listed.sort] if one.kind == "day"},
    )  # fmt: skip


def _long_page(request: Request, session: Read, asker: Asker, row: ListFileSummary, form: Form) -> Response:
    """A long list is read aside; until then, and while it is taken, its page says how far that is and comes again."""
    state = request.app.state
    taking: Work | None = state.long_lists.taking(row.id)
    if taking is not None and not taking.is_over:
        return _working(request, asker, row, taking, form)

    def read(tell: Told) -> ListFileRead:
        with state.database.reading() as apart:
            return queries.look_at_list(apart, row.id, state.clock.now(), tell, looker=asker)

    reading: Work = state.long_lists.read(row.id, row.version, asker.account_id, read)
    if not reading.is_over:
        return _working(request, asker, row, reading, form)
    if reading.problem is not None:
        state.long_lists.forget(reading)
        raise reading.problem
    if taking is not None and taking.problem is not None and taking.account_id == asker.account_id:
        if taking.version == row.version:
            form.problem = form.problem or taking.problem
        elif isinstance(taking.problem, ListChanged):
            form.problem = form.problem or taking.problem
            state.long_lists.forget(taking)
    return _shown(request, session, asker, reading.result, form)


def _working(request: Request, asker: Asker, row: ListFileSummary, work: Work, form: Form) -> Response:
    answer = render(
        request,
        "lists/working.html",
        asker=asker,
        form=form,
        listed=row,
        work=work,
        sort_words=SORTS[row.sort],
    )
    if form.problem is None:  # what was refused is read first
        answer.headers["Refresh"] = f"2; url=/lists/{row.id}"
    return answer


@router.post("/lists/{list_id}/form")
async def post_form(request: Request, session: Read, asker: Mover, list_id: UUID) -> Response:
    """Which column tells what; what is left empty tells nothing."""
    form = await read_form(request)

    async def save() -> ListFileSummary:
        told = {
            name.removeprefix(COLUMN): form.text(name) for name in form.names() if name.startswith(COLUMN)
        }
        rests = {name: form.text(name) for name in ("kind_id", "site_id", "area_id") if form.text(name)}
        columns = {name: heading for name, heading in told.items() if heading}
        with form.reading() as apart:
            before = ListFormSet.model_validate(queries.find_list(apart, list_id).form or {})
        # Another sheet has headings of its own: its columns are guessed anew.
        same = form.text("sheet") == form.text("read_sheet")
        body = form.into(
            ListFormSet, "sheet", encoding=before.encoding, delimiter=before.delimiter, orders=before.orders,
            header_row=before.header_row if same else 0, columns=columns if same else None, **rests,
        )  # fmt: skip

        def read() -> Prepared[queries.ListCounted]:
            with form.reading() as apart:
                return queries.read_form(apart, list_id, body)

        return await form.write(
            actions.set_list_form, asker, list_id, body, await anyio.to_thread.run_sync(read)
        )

    return await submitted(
        request, form, save, lambda _: (f"/lists/{list_id}", "It is read so now."),
        lambda: _list_page(request, session, asker, list_id, form),
    )  # fmt: skip


@router.post("/lists/{list_id}/answers")
async def post_answers(request: Request, session: Read, asker: Mover, list_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> ListFileSummary:
        told = {
            name.removeprefix(ANSWER): form.text(name) for name in form.names() if name.startswith(ANSWER)
        }
        body = form.into(ListAnswersSet, answers=told)
        return await form.write(actions.answer_list, asker, list_id, body)

    return await submitted(
        request, form, save, lambda _: (f"/lists/{list_id}", "The answers are written down."),
        lambda: _list_page(request, session, asker, list_id, form),
    )  # fmt: skip


@router.post("/lists/{list_id}/take")
async def post_take(request: Request, session: Read, asker: Mover, list_id: UUID) -> Response:
    """Whole or not at all; rows that cannot be used stay out only where that was ticked."""
    form = await read_form(request)
    state = request.app.state

    def prepared(tell: Told | None = None) -> Prepared[queries.ListPrepared]:
        with state.database.reading() as apart:
            return queries.prepare_list(apart, list_id, state.clock.now(), tell)

    row = queries.list_summary(queries.find_list(session, list_id))
    body = ListTake(leave_refused=form.text("leave_refused") == "true")
    if row.state is ListState.WAITING and row.rows >= LONG_ROWS:

        def take(tell: Told) -> ListFileSummary:
            return form.write_now(actions.take_list, asker, list_id, body, prepared(tell))

        state.long_lists.take(list_id, row.version, asker.account_id, take)
        answer = RedirectResponse(f"/lists/{list_id}", status_code=303)
        acting.remember(request, answer, asker, str(asker.acting_for_id))
        return answer

    async def save() -> ListFileSummary:
        plan = await anyio.to_thread.run_sync(prepared)
        return await form.write(actions.take_list, asker, list_id, body, plan)

    def then(made: ListFileSummary) -> tuple[str, str]:
        words = SORTS[made.sort]
        brought = f"{words.one} is" if made.brought == 1 else f"{words.many} are"
        return f"/lists/{list_id}", f"{made.brought} {brought} in the record."

    return await submitted(
        request, form, save, then, lambda: _list_page(request, session, asker, list_id, form)
    )  # fmt: skip


@router.post("/lists/{list_id}/take-back")
async def post_take_back(request: Request, session: Read, asker: Mover, list_id: UUID) -> Response:
    """All that the list brought goes again, or nothing, and what rests on it is told."""
    form = await read_form(request)

    async def save() -> ListFileSummary:
        return await form.write(actions.take_list_back, asker, list_id, form.into(ListTakeBack, "reason"))

    return await submitted(
        request, form, save, lambda made: (f"/lists/{list_id}", f"The list is taken back: {_WENT[made.sort in STAYS_IN_THE_LEDGER]}."),
        lambda: _list_page(request, session, asker, list_id, form),
    )  # fmt: skip


@router.post("/lists/{list_id}/drop")
async def post_drop(request: Request, session: Read, asker: Mover, list_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> ListFileSummary:
        return await form.write(actions.drop_list, asker, list_id)

    return await submitted(
        request, form, save, lambda _: ("/lists", "The list is thrown away; nothing of it was in the record."),
        lambda: _list_page(request, session, asker, list_id, form),
    )  # fmt: skip

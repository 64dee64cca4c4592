"""What the forms about people have in common."""

from __future__ import annotations

from service.lib.errors import Problem
from service.pages.forms import Form


def secret(form: Form, name: str = "password") -> str:
    """A password exactly as it was typed, blanks at its ends included."""
    value = form.data.get(name) if form.data is not None else ""
    return value if isinstance(value, str) else ""


def note(form: Form, problem: Problem) -> None:
    """Put a problem into the form, with its words at the field it concerns."""
    form.problem = problem
    form.wrong = getattr(problem, "wrong", None) or ({problem.field: problem.detail} if problem.field else {})


def version_of(form: Form) -> int:
    """The version a form was opened on. Raises `LostVersion`."""
    return form.version()


def own_path(told: str) -> str:
    """A path of this service to go on to; anything else becomes the start page."""
    fits = told.startswith("/") and not told.startswith(("//", "/\\")) and told.isprintable()
    return told if fits and not told.startswith("/sign-") else "/"


def back_or(form: Form, address: str) -> str:
    """Where somebody was refused before they came to this form; the usual address where they were not."""
    return own_path(form.text("back")) if form.text("back") else address

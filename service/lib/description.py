"""The API's description (OpenAPI 3.1) as programs read it: what the framework writes down, put right and made whole."""

from __future__ import annotations

import re
from collections.abc import Iterator
from http import HTTPStatus
from typing import Any

from service.lib.request import KEY_FORM, PROBLEM_TYPE, VERSION_FORM, ProblemAnswer

Node = dict[str, Any]
METHODS = ("get", "post", "put", "patch", "delete")
_WORDS = {
    400: "The request could not be read, or a change came without a usable Idempotency-Key.",
    401: "Nobody known is asking.",
    403: "Somebody known is asking, who may not.",
    404: "There is no such thing.",
    409: "Well formed, but a rule says no now.",
    412: "It changed since it was read.",
    413: "More than the limit was sent.",
    415: "This kind of content is not taken here.",
    422: "A value cannot be used as it stands.",
    428: "The edit does not say which version it read.",
    429: "Too many tries.",
    503: "The database does not answer, or could not save; nothing was written.",
}
_ETAG = {"description": "The version; send it as If-Match with an edit.", "schema": {"type": "string"}}
_HEADERS: dict[int, Node] = {
    401: {"WWW-Authenticate": {"description": "How to sign in.", "schema": {"type": "string"}}},
    429: {
        "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer", "minimum": 1}, "required": True}
    },
}  # fmt: skip


def describe(document: Node, who_may: dict[tuple[str, str], str], ways_in: dict[str, Node]) -> Node:
    """Put the framework's description right; `who_may` says of each (method, path) whom it lets in, `ways_in` how they sign in."""
    components = document.setdefault("components", {})
    schemas, components["securitySchemes"] = components.setdefault("schemas", {}), ways_in
    schemas["ProblemAnswer"] = ProblemAnswer.model_json_schema(ref_template="#/components/schemas/{model}")
    for path, method, operation in operations(document):
        _tell_in_words(operation, who_may[method, path])
        if who_may[method, path] != "anybody":
            operation["security"] = [{way: []} for way in ways_in]
            if who_may[method, path].startswith("anybody"):
                operation["security"].append({})  # nobody need be known
        _ask_for_headers(operation)
        for status, answer in operation["responses"].items():
            if int(status) >= HTTPStatus.BAD_REQUEST:
                _describe_problem(int(status), answer)
    for item in document["paths"].values():
        _name_versions(item)
    return document


def operations(document: Node) -> Iterator[tuple[str, str, Node]]:
    """Path, method and description of everything the API does."""
    for path, item in document["paths"].items():
        for method in METHODS:
            if method in item:
                yield path, method, item[method]


def _tell_in_words(operation: Node, who_may: str) -> None:
    first, *more = re.split(r"(?<=\.)\s+", operation["description"], maxsplit=1)
    operation["summary"] = first.rstrip(".")
    operation["description"] = "\n\n".join([*more, f"Who may: {who_may}."])


def _describe_problem(status: int, answer: Node) -> None:
    answer["description"] = _WORDS[status]
    answer["content"] = {PROBLEM_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemAnswer"}}}
    if status in _HEADERS:
        answer["headers"] = _HEADERS[status]


def _ask_for_headers(operation: Node) -> None:
    """Headers that a change cannot do without are read as if they might be missing, to tell it in words."""
    forms = {"Idempotency-Key": KEY_FORM.pattern, "If-Match": rf"(?:\*|{VERSION_FORM.pattern})"}
    for parameter in operation.get("parameters", ()):
        form = forms.get(parameter["name"])
        if form is not None:
            parameter["required"] = True
            parameter["schema"] = {"type": "string", "pattern": f"^{form}$"}


def _name_versions(item: Node) -> None:
    """What can be edited by its version tells that version."""
    edits = [item[method] for method in METHODS if method in item and _needs(item[method], "If-Match")]
    for operation in [*edits, *([item["get"]] if edits and "get" in item else [])]:
        operation["responses"]["200"].setdefault("headers", {})["ETag"] = {**_ETAG, "required": True}


def _needs(operation: Node, header: str) -> bool:
    return any(parameter["name"] == header for parameter in operation.get("parameters", ()))

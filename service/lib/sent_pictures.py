"""A picture in a request: sent alone, or as the file `picture` of a form."""

from __future__ import annotations

from typing import Any

from fastapi import Request
from starlette.datastructures import UploadFile

from service.lib.errors import WrongKind
from service.lib.pictures import KINDS_WORDS, BrokenPicture

_BINARY = {"schema": {"type": "string", "format": "binary"}}
_FORM = {
    "type": "object",
    "required": ["picture"],
    "properties": {"picture": {"type": "string", "format": "binary"}},
}
PICTURE_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {"schema": _FORM},
            "image/jpeg": _BINARY,
            "image/png": _BINARY,
            "image/webp": _BINARY,
        },
    }
}


async def sent_picture(request: Request) -> bytes:
    """The bytes of a picture. Raises `WrongKind`, `BrokenPicture`."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind in ("image/jpeg", "image/png", "image/webp"):
        return await request.body()
    if kind != "multipart/form-data":
        raise WrongKind(
            f"The picture came as “{kind[:100]}”.",
            todo=f"Send {KINDS_WORDS}, alone or as the file 'picture' of a form.",
        )
    async with request.form() as form:
        picture = form.get("picture")
        if not isinstance(picture, UploadFile):
            raise BrokenPicture("The form has no file called 'picture'.", field="picture")
        return await picture.read()

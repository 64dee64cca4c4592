"""Every number that is told of or rung by, of the models and of keeping: what the page of all numbers and the API list."""

from __future__ import annotations

from service.catalogue.queries import science
from service.catalogue.schemas import ScienceParameter, ScienceRead


def every_number() -> ScienceRead:
    """No statement: they stand in the code that reads them."""
    # Imported here: the numbers stand in the code that reckons with them, which a start need not load.
    from service.storage.rules.numbers import keeping_numbers

    told = science()
    kept = [
        ScienceParameter(
            model=one.key, name=one.name, value=one.value, unit=one.unit, mark=one.mark, source=one.source, note=one.note
        )
        for one in keeping_numbers()
    ]  # fmt: skip
    return told.model_copy(update={"parameters": [*told.parameters, *kept]})

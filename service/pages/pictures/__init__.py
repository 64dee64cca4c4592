"""Pictures of wood, drawn on the server: the life line of a bundle, and the same line forking through its lineage."""

from service.pages.pictures.life import life_line_of
from service.pages.pictures.lineage import lineage_of

__all__ = ["life_line_of", "lineage_of"]

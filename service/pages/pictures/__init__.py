"""Pictures of wood, drawn on the server: the life line of a bundle, and the same line forking through its lineage."""

from service.pages.pictures.from_record import Row, life_line_of, lineage_of, small_lines_of

__all__ = ["Row", "life_line_of", "lineage_of", "small_lines_of"]

"""What a season printed, what it stopped, and whom it told."""

from __future__ import annotations

from service.cli.season.files import Row, told
from service.cli.season.story import Story
from service.provenance import actions as provenance
from service.provenance.schemas import RecallCreate, StopOpen, ToldCreate
from service.tags import actions as tags
from service.tags.schemas import LabelSheetCreate
from service.trees.rules import StopReason


def print_sheet(story: Story, row: Row) -> None:
    """One sheet of all tags of this kind that have no label yet."""
    kind = row["what"].removesuffix("s")
    waiting = {
        key: code
        for key, code in story.codes.items()
        if code and (kind, key) in story.ids and key not in story.printed
    }
    story.do(
        tags.print_labels,
        story.asker(row["by"]),
        LabelSheetCreate(codes=list(waiting.values()), sheet=row["sheet"]),
    )
    story.printed.update(waiting)


def stop(story: Story, row: Row) -> None:
    asker, key = story.asker(row["by"]), row["key"]
    match row["act"]:
        case "stop":
            opened = StopOpen(
                id=story.new("stop", key), tree_id=story.the("tree", row["tree"]), reason=StopReason(row["reason"]),
                **told(row, "agent", "note"),
            )  # fmt: skip
            story.do(provenance.stop_tree, asker, opened)
        case "recall":
            begun = RecallCreate(
                id=story.new("recall", key), stop_id=story.the("stop", key), note=row["note"]
            )
            story.do(provenance.start_recall, asker, begun)
        case "told":
            heard = ToldCreate(party_id=story.party(row["party"]), how=row["how"])
            story.do(provenance.mark_told, asker, story.the("recall", key), heard)
        case other:
            raise ValueError(f"nothing is known of the act '{other}'")

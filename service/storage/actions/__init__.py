"""What people do with stores: set them up, put wood away, take it out, look at it, measure in them."""

from service.storage.actions.counting import begin_count, end_count, scan_on_shelf
from service.storage.actions.files import (
    check_rows_of,
    drop_file,
    send_file,
    send_text,
    set_file_form,
    take_file,
    take_file_back,
)
from service.storage.actions.hand import put_fruit_in, read_dial, take_dial_back, take_fruit_out
from service.storage.actions.limits import set_limits
from service.storage.actions.loggers import (
    add_logger,
    change_logger,
    hang_logger,
    leave_out,
    set_offset,
    take_in_again,
)
from service.storage.actions.looking import record_bundle_checks
from service.storage.actions.packing import tell_packing
from service.storage.actions.photos import check_takes_photo, read_shelf_photo, see_shelf
from service.storage.actions.putting import lay_with_parents, put_away, take_out
from service.storage.actions.reading import send_readings
from service.storage.actions.ringing import (
    ringing,
)
from service.storage.actions.stores import add_box, add_place, add_store, change_box, change_store, set_codes
from service.storage.actions.weekly import (
    weekly_letter,
    weekly_letters,
    weekly_wanted,
)
from service.storage.actions.weighing import (
    take_weighing_back,
    weigh_bag,
)

__all__ = [
    "add_box",
    "add_logger",
    "add_place",
    "add_store",
    "begin_count",
    "change_box",
    "change_logger",
    "change_store",
    "check_rows_of",
    "check_takes_photo",
    "drop_file",
    "end_count",
    "hang_logger",
    "lay_with_parents",
    "leave_out",
    "put_away",
    "put_fruit_in",
    "read_dial",
    "read_shelf_photo",
    "record_bundle_checks",
    "ringing",
    "scan_on_shelf",
    "see_shelf",
    "send_file",
    "send_readings",
    "send_text",
    "set_codes",
    "set_file_form",
    "set_limits",
    "set_offset",
    "take_dial_back",
    "take_file",
    "take_file_back",
    "take_fruit_out",
    "take_in_again",
    "take_out",
    "take_weighing_back",
    "tell_packing",
    "weekly_letter",
    "weekly_letters",
    "weekly_wanted",
    "weigh_bag",
]  # fmt: skip

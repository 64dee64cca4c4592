"""The demo's season: readable files of an invented club, told through the same actions that everybody uses."""

from service.cli.season.files import DEMO_DIR, SeasonFileWrong, read_rows, read_settings
from service.cli.season.story import StoryClock
from service.cli.season.telling import Season, SignInShown, load_season, moment

__all__ = [
    "DEMO_DIR",
    "Season",
    "SeasonFileWrong",
    "SignInShown",
    "StoryClock",
    "load_season",
    "moment",
    "read_rows",
    "read_settings",
]

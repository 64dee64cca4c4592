"""The set-up scripts of `deploy/`, as something a test can look into."""

from __future__ import annotations

import importlib.util
from functools import cache
from pathlib import Path
from typing import Any

CHECKOUT = Path(__file__).resolve().parents[2]


@cache
def prepare_script() -> Any:
    """`deploy/_prepare.py`, which is no package of its own: it must run before anything is installed."""
    spec = importlib.util.spec_from_file_location("prepare_script", CHECKOUT / "deploy" / "_prepare.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module

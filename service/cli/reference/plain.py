"""Settings, commands and roles."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer.main

from service.cli.reference.words import NOTE
from service.lib.settings import Settings
from service.members.rules import ROLE_MAY, May, Role


def settings_page() -> str:
    """Every setting with its default and its sentence."""
    rows = ["| setting | default | what it does |", "| --- | --- | --- |"]
    for name, field in Settings.model_fields.items():
        default = "" if field.default_factory or field.default is None else field.default
        shown = "" if isinstance(default, Path) else str(default)
        rows.append(f"| `SCION_{name.upper()}` | {f'`{shown}`' if shown else ''} | {field.description} |")
    return f"# Settings\n\n{NOTE}\n" + "\n".join(rows) + "\n"


def commands_page() -> str:
    """Every command with its options."""
    from service.cli import app

    told: Any = typer.main.get_command(app)
    parts = [f"# Commands\n\n{NOTE}"]
    for name, command in sorted(told.commands.items()):
        parts.append(f"## `python -m service {name}`\n\n{(command.help or '').strip()}\n")
        lines = [_parameter(each) for each in command.params if each.name != "help"]
        if lines:
            parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _parameter(each: Any) -> str:
    words = ", ".join(f"`{name}`" for name in each.opts)
    return f"- {words}: {getattr(each, 'help', '') or ''}"


def roles_page() -> str:
    """What each role may do: the same words are the scopes of API tokens."""
    roles = list(Role)
    rows = [
        "| right and token scope | " + " | ".join(role.replace("_", " ") for role in roles) + " |",
        "| --- |" + " --- |" * len(roles),
    ]
    rows += [
        "| `" + right + "` | " + " | ".join("yes" if right in ROLE_MAY[role] else "" for role in roles) + " |"
        for right in May
    ]
    return f"# Roles and rights\n\n{NOTE}\n" + "\n".join(rows) + "\n"

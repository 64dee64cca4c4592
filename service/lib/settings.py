"""Every setting, typed, with a sentence each; read from the environment (`SCION_…`) or from files."""

from __future__ import annotations

import os
import secrets
from datetime import datetime
from pathlib import Path

from pydantic import Field, SecretStr, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

LOOPBACKS = ("localhost", "127.0.0.1", "::1")
CHECKOUT = Path(__file__).resolve().parents[2]


def _default_data_dir() -> Path:
    base = os.environ.get("XDG_DATA_HOME")
    return (Path(base) if base else Path.home() / ".local" / "share") / "scion-service"


class Settings(BaseSettings):
    """How this club's service runs. Every name is read with the prefix `SCION_`."""

    # What was put in is kept out of what is printed when it is refused: a password stands among it.
    model_config = SettingsConfigDict(
        env_prefix="SCION_", secrets_dir=os.environ.get("SCION_SECRETS_DIR"), hide_input_in_errors=True
    )

    data_dir: Path = Field(
        default_factory=_default_data_dir, description="Folder for the database, pictures and secrets."
    )
    database_url: str = Field(
        default="", description="SQLAlchemy address of the database; empty means SQLite in the data folder."
    )
    reference_dir: Path = Field(
        default=CHECKOUT / "fixtures" / "reference",
        description="Folder with the catalogue's reference files.",
    )
    host: str = Field(default="127.0.0.1", description="Address the server listens on.")
    port: int = Field(
        default=8000, ge=0, le=65535, description="Port the server listens on; 0 picks a free one."
    )
    trusted_origins: str = Field(
        default="", description="Further origins whose pages may send forms, split by commas."
    )
    secure_cookies: bool = Field(
        default=False, description="Send cookies over HTTPS only; switch on behind HTTPS."
    )
    fixed_now: datetime | None = Field(
        default=None, description="Start the clock at this instant instead of the present one."
    )
    max_body_mb: int = Field(default=20, ge=1, le=200, description="Largest request body in megabytes.")
    sign_in_tries_per_minute: int = Field(
        default=10,
        ge=1,
        description="Sign-in tries per name, and readings of one calendar, in a minute; an address may fail three times as often.",
    )
    token_calls_per_minute: int = Field(default=600, ge=1, description="API calls per token in a minute.")
    group_wait_ms: float = Field(
        default=0.0, ge=0, le=50, description="How long a group commit waits for company, in milliseconds."
    )
    sqlite_synchronous: str = Field(
        default="FULL",
        pattern="^(FULL|NORMAL)$",
        description="SQLite durability; NORMAL may lose the last seconds on power loss.",
    )

    mail_host: str = Field(
        default="", description="Mail server that takes the club's letters (SMTP); empty means that no mail is sent."
    )  # fmt: skip
    mail_port: int = Field(
        default=587, ge=1, le=65535, description="Port of the mail server: 587 for starttls, 465 for tls."
    )
    mail_security: str = Field(
        default="starttls",
        pattern="^(starttls|tls|plain)$",
        description="How mail travels: starttls, tls, or plain; with a password plain is for this machine alone.",
    )
    mail_user: str = Field(default="", description="Name to sign in to the mail server with; empty for none.")
    mail_password: SecretStr = Field(
        default=SecretStr(""), description="Password for the mail server; better kept in a file of SCION_SECRETS_DIR."
    )  # fmt: skip
    mail_from: str = Field(
        default="", description="Address the club's letters come from; needed with a mail server."
    )
    mail_timeout_seconds: float = Field(
        default=20.0,
        ge=1,
        le=120,
        description="How long the mail server may take for each answer, in seconds.",
    )
    mail_links_to: str = Field(
        default="", description="Where letters say the pages are, such as https://club.example; empty for no link."
    )  # fmt: skip

    @model_validator(mode="after")
    def _mail_is_whole(self) -> Settings:
        if not self.mail_host:
            return self
        if self.mail_from.count("@") != 1 or "=?" in self.mail_from or any(map(str.isspace, self.mail_from)):
            raise ValueError("SCION_MAIL_FROM must be an address, such as fridge@club.example")
        if self.mail_security == "plain" and self.mail_user and self.mail_host not in LOOPBACKS:
            raise ValueError("a mail password goes over plain to this machine alone: set SCION_MAIL_SECURITY")
        return self

    def resolved_database_url(self) -> str:
        return self.database_url or f"sqlite:///{self.data_dir / 'club.sqlite3'}"

    def prepare(self) -> None:
        """Make the data folder, private to its owner."""
        self.data_dir.mkdir(parents=True, exist_ok=True, mode=0o700)
        (self.data_dir / "pictures").mkdir(exist_ok=True, mode=0o700)

    def secret(self) -> bytes:
        """The service's own secret, made on first use and kept in a file only its owner can read."""
        path = self.data_dir / "secret"
        if not path.exists():
            self.prepare()
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(secrets.token_bytes(32))
        return path.read_bytes()

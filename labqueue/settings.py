"""Settings of the site, read from the environment (the README has the table)."""

from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent
SECRET_KEY = "only-for-the-first-commit"  # noqa: S105
DEBUG = True
INSTALLED_APPS: list[str] = []
USE_TZ = True

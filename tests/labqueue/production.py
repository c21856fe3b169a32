"""Runs labqueue in a process of its own with the environment of a laboratory's server."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
HOST = "lab.example"
SOUND = {
    "LABQUEUE_PRODUCTION": "yes",
    "LABQUEUE_SECRET_KEY": "kept-between-starts-" + "Zx9-Qw7_Lm3.Rt5+" * 3,
    "LABQUEUE_HOSTS": HOST,
    "LABQUEUE_MAIL_HOST": "mail.lab.example",
    "LABQUEUE_MAIL_FROM": "lab@lab.example",
    "LABQUEUE_BEHIND_PROXY": "yes",
}


def environment(folder: Path, **changes: str) -> dict[str, str]:
    """A sound production environment with ``changes``; an empty value leaves a variable out."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("LABQUEUE_", "DATABASE_URL"))
    }
    ours = {**SOUND, "LABQUEUE_VAR": str(folder / "var"), **changes}
    return kept | {name: value for name, value in ours.items() if value}


def manage(folder: Path, *arguments: str, **changes: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment(folder, **changes),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )

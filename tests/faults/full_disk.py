"""Settings of a laboratory whose SQLite file may not grow: SQLite then says what it says of a full disk."""

import os

from labqueue.settings import *  # noqa: F403

DATABASES["default"]["OPTIONS"]["init_command"] += os.environ.get("FAULTS_PRAGMA", "")  # noqa: F405

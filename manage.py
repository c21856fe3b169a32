#!/usr/bin/env python
"""Run labqueue's management commands."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")
    from django.conf import settings
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        settings.SECRET_KEY  # noqa: B018  (reading any setting loads and tries them all)
    except ImproperlyConfigured as problem:
        sys.exit(str(problem))
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()

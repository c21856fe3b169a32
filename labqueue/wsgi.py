"""The entry point for gunicorn."""

import os

from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labqueue.settings")
application = get_wsgi_application()

if settings.PRODUCTION:
    from labqueue.checks import refuse_unsafe

    refuse_unsafe()

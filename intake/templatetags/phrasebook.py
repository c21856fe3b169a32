"""``{{ finding.sentence|said }}``: a stored English text in the language of whoever reads the page."""

from __future__ import annotations

from django import template

from intake.phrasebook import said

register = template.Library()
register.filter("said", said)

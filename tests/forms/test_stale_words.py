"""How an edit form says how things stand now, whatever kind of value a field has."""

from __future__ import annotations

from datetime import time

import pytest
from django import forms

from intake.forms.once import how_it_stands


class Several(forms.Form):
    acids = forms.MultipleChoiceField(
        label="Acids", choices=[("nitric", "nitric acid"), ("sulfuric", "sulfuric acid")], required=False
    )
    opens = forms.TimeField(label="Opens", required=False)
    limit = forms.FloatField(label="Limit", required=False)


@pytest.mark.parametrize(
    ("stands", "words"),
    [
        ({"acids": ["nitric", "sulfuric"]}, "Acids: nitric acid, sulfuric acid"),
        ({"acids": ["nitric"]}, "Acids: nitric acid"),
        ({"opens": time(8, 5)}, "Opens: 08:05"),
        ({"limit": 28.0}, "Limit: 28.0"),
        ({"limit": None}, "the same as you typed"),
        ({"acids": []}, "the same as you typed"),
    ],
)
def test_what_somebody_else_made_of_it_is_said(stands, words):
    form = Several({})
    assert form.is_valid()
    assert words in how_it_stands(form, stands)


def test_an_emptied_list_is_said_too():
    form = Several({"acids": ["nitric"]})
    assert form.is_valid()
    assert "Acids: nothing" in how_it_stands(form, {"acids": []})

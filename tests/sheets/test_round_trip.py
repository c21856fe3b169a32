"""What is written back into cells reads as the same samples, in every zone."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from intake.sheets.columns import BY_CODE
from intake.sheets.rowtexts import entry_of, raw_texts
from intake.sheets.table import RawRow, read_rows

from .samples import ZONES, entries


@settings(max_examples=300, deadline=None)
@given(st.data(), st.sampled_from(ZONES))
def test_texts_of_a_sample_read_as_that_sample(data: st.DataObject, zone: str) -> None:
    entry = data.draw(entries(zone))
    texts = raw_texts(entry, zone)
    reading = read_rows([RawRow(5, texts)], zone)
    assert reading.problems == ()
    assert reading.entries == (entry,)
    assert all(texts.values()) and set(texts) <= set(BY_CODE)


@settings(max_examples=100, deadline=None)
@given(st.data(), st.sampled_from(ZONES))
def test_texts_settle_after_one_reading(data: st.DataObject, zone: str) -> None:
    """Whatever people type: if it is taken, it is written back as something that means the same."""
    cells = data.draw(st.dictionaries(st.sampled_from(sorted(BY_CODE)), st.text(max_size=12)))
    for entry in read_rows([RawRow(5, cells)], zone).entries:
        assert read_rows([RawRow(5, raw_texts(entry, zone))], zone).entries == (entry,)


@settings(max_examples=50, deadline=None)
@given(entries("UTC"))
def test_a_stored_sample_becomes_its_entry(entry: object) -> None:
    assert entry_of(entry, entry.bottles) == entry

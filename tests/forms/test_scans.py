"""What a text at the desk means, whatever came out of the scanner."""

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from intake import numbers
from intake.forms.figures import FigureField
from intake.forms.scans import COMMANDS, Kind, ScanForm, ph_of, read

ASKING = st.sampled_from(["", "ph", "remark"])
#: What may change something without being asked for first.
ACTING = {Kind.OK, Kind.AGREE, Kind.UNDO, Kind.ADD, Kind.LEAVE}


@given(st.text(max_size=300), ASKING)
def test_every_text_means_something_and_only_commands_act(text, asking):
    entry = read(text, asking)
    if entry.kind in ACTING:
        assert text.strip().startswith(".")
    if entry.kind in (Kind.BOTTLE, Kind.CONSIGNMENT, Kind.ARRIVAL):
        assert numbers.is_number(text)
        assert entry.value == numbers.tidy(text)
    if entry.kind is Kind.REMARK:
        assert asking == "remark"
    if entry.kind is Kind.PH:
        assert asking == "ph" or text.strip().startswith(".")
    if entry.kind is Kind.MARKS and not entry.meant:
        assert asking == ""


@given(st.sampled_from(["B", "C", "A"]), ASKING)
def test_a_number_of_ours_is_a_number_whatever_is_asked(kind, asking):
    number = numbers.new_number(kind)
    kinds = {"B": Kind.BOTTLE, "C": Kind.CONSIGNMENT, "A": Kind.ARRIVAL}
    assert read(numbers.grouped(number).lower(), asking).kind is kinds[kind]


@given(st.integers(0, 6), st.sampled_from(numbers.ALPHABET))
def test_one_wrong_character_is_a_misreading_not_another_bottle(place, character):
    number = numbers.new_number("B")
    wrong = number[: place + 1] + character + number[place + 2 :]
    if wrong != number:
        assert read(wrong).kind in (Kind.MISREAD, Kind.OTHER)


@pytest.mark.parametrize("word", COMMANDS)
def test_commands_are_read_in_any_case_and_spacing(word):
    assert read(f" . {word.lower()} ").kind is COMMANDS[word]
    assert read(word).kind is not COMMANDS[word], "without the full stop it is a word like any other"


@pytest.mark.parametrize(
    ("text", "range_"),
    [
        ("1.5", (1.5, 1.5)),
        ("1,5", (1.5, 1.5)),
        ("1-2", (1.0, 2.0)),
        ("1 – 2.5", (1.0, 2.5)),
        ("14", (14.0, 14.0)),
        ("99", (99.0, 99.0)),
        ("-1", None),
        ("seven", None),
        ("1.555", None),
        ("1e1", None),
        ("", None),
        ("١", (1.0, 1.0)),
    ],
)
def test_a_strip_is_read_as_a_value_or_a_range(text, range_):
    assert ph_of(text) == range_


@pytest.mark.parametrize("text", ["11", "0", "10", "1x", "123456789012"])
def test_digits_that_are_no_list_of_faults(text):
    assert read(text).kind is Kind.OTHER


def test_faults_are_put_in_order():
    assert read("51").value == "15"
    assert read(".9 1").value == "19"


@given(st.dictionaries(st.sampled_from(list(ScanForm.base_fields)), st.text(max_size=50)))
def test_no_form_of_a_scan_breaks(data):
    form = ScanForm(data)
    if form.is_valid():
        form.entry()


@pytest.mark.parametrize(
    ("text", "value"), [("4.5", 4.5), ("4,5", 4.5), (" −3 ", -3.0), ("0", 0.0), ("", None)]
)
def test_figures_as_people_type_them(text, value):
    assert FigureField(required=False, example="4.5").clean(text) == value


@pytest.mark.parametrize("text", ["cold", "nan", "inf", "1,2,3", "4 °C", "0x10"])
def test_what_is_no_figure_says_how_to_type_one(text):
    with pytest.raises(ValidationError, match=r"such as 4\.5"):
        FigureField(required=False, example="4.5").clean(text)

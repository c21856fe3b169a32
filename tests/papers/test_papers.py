"""Papers, looked at as pictures; their codes are read by a decoder that is not ours."""

from dataclasses import replace
from datetime import timedelta
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from intake.actions.judging import rulebook_of
from intake.numbers import grouped
from intake.papers.fieldcard import SendBy, field_card_pdf
from intake.papers.formats import SHIPPED, LabelFormat, default_format
from intake.papers.labels import Label, _draw, labels_pdf
from intake.papers.letters import PLAIN, fitted, prepare, printable, width_of
from intake.papers.packing import packing_list_pdf
from intake.papers.squares import modules_of
from tests.factories import COLLECTED, anion_bottle, cation_bottle, draft, sample, sent
from tests.papers.seeing import codes, pages, smudged, text_of

pytestmark = pytest.mark.django_db


def bottles_of(consignment):
    return list(
        consignment.bottles.select_related("sample", "consignment__group").order_by(
            "sample__position", "line"
        )
    )


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(
        submitter,
        group,
        rulebook,
        *(sample(f"S{n}", site="Lower weir, left bank") for n in range(1, 14)),
    )


@pytest.mark.parametrize(
    ("form", "dots_per_inch"),
    [(form, 203) for form in SHIPPED] + [(SHIPPED[0], 300), (SHIPPED[3], 300), (SHIPPED[4], 600)],
    ids=lambda value: getattr(value, "code", str(value)),
)
def test_every_code_reads_back_as_its_bottle_number(consignment, form, dots_per_inch):
    bottles = bottles_of(consignment)[:6]
    read = [code for page in pages(labels_pdf(bottles, form), dots_per_inch) for code in codes(page)]
    assert sorted(read) == sorted(bottle.number for bottle in bottles)


def test_a_smudged_label_still_reads(consignment):
    (bottle,) = bottles_of(consignment)[:1]
    (page,) = pages(labels_pdf([bottle], default_format()))
    assert codes(smudged(page)) == [bottle.number]


def test_the_number_stands_beside_its_code_with_sample_site_date_and_line(consignment):
    (bottle,) = bottles_of(consignment)[:1]
    text = text_of(labels_pdf([bottle], SHIPPED[1]))
    for said in (grouped(bottle.number), "S1", "Lower weir, left bank", "3 Mar 2026", "ANION", "no acid"):
        assert said in text


def test_acid_is_told_in_words_and_as_a_black_bar_without_colour(submitter, group, rulebook):
    consignment = draft(
        submitter, group, rulebook, sample(bottles=(anion_bottle(), cation_bottle(acid_ml=0.5)))
    )
    anion, cation = bottles_of(consignment)
    roll = SHIPPED[3]
    assert "ACID: nitric 0.5 mL 1 mol/L" in text_of(labels_pdf([cation], roll))
    dark = {}
    for bottle in (anion, cation):
        (page,) = pages(labels_pdf([bottle], roll), 203)
        mark = page.crop((int(page.width * 0.45), int(page.height * 0.7), page.width - 20, page.height - 15))
        dark[bottle.line] = sum(1 for dot in mark.get_flattened_data() if dot < 128) / (
            mark.width * mark.height
        )
    assert dark["cation"] > 0.6
    assert dark["anion"] < 0.3


def test_labels_go_on_from_where_a_sheet_was_begun(consignment):
    bottles = bottles_of(consignment)
    form = SHIPPED[1]
    assert len(pages(labels_pdf(bottles, form, first=1), 30)) == 2
    (first, *_rest) = pages(labels_pdf(bottles[:1], form, first=24), 200)
    corner = first.crop((int(first.width * 2 / 3), int(first.height * 7 / 8), first.width, first.height))
    assert codes(corner) == [bottles[0].number]


@pytest.mark.parametrize("form", SHIPPED, ids=lambda form: form.code)
def test_every_label_lies_on_its_page_and_its_code_is_wide_enough_to_print(form):
    for index in range(form.per_page):
        x, y = form.place_mm(index)
        assert x >= -0.01
        assert y >= -0.01
        assert x + form.label_mm[0] <= form.page_mm[0] + 0.01
        assert y + form.label_mm[1] <= form.page_mm[1] + 0.01
    side_mm = min(form.label_mm[1] - 3, form.label_mm[0] * 0.36)
    # GS1 General Specifications ask for a module of at least 0.254 mm, 0.38 mm as target (read
    # second-hand).
    assert side_mm / modules_of("B23456789") >= 0.38


def test_the_packing_list_opens_its_consignment_with_one_scan(consignment):
    content = packing_list_pdf(consignment, bottles_of(consignment))
    sheets = pages(content, 150)
    assert codes(sheets[0]) == [consignment.number]
    text = text_of(content)
    assert all(grouped(bottle.number) in text for bottle in bottles_of(consignment))
    assert "26 bottles" in text
    assert "Europe/Berlin" in text


def test_the_field_card_tells_the_rulebooks_figures_in_order_with_cautions(consignment, rulebook):
    book = replace(rulebook_of(rulebook), acid_dose_ml=1.0, filter_pore_max_um=0.2)
    content = field_card_pdf(
        book, consignment, SendBy(COLLECTED + timedelta(hours=48), COLLECTED + timedelta(hours=30))
    )
    assert len(pages(content, 40)) == 1
    assert codes(pages(content, 150)[0]) == [consignment.number]
    text = text_of(content)
    places = [
        text.index(step)
        for step in (
            "Measure",
            "Filter first",
            "Rinse",
            "Fill to the brim",
            "Acid: cations only",
            "Cold at once",
            "Send",
        )
    ]
    assert places == sorted(places)
    for said in (
        "0.2 µm",
        "1 mL of 1 mol/L",
        "goggles and gloves",
        "reception by 4 Mar 2026 15:00 Europe/Berlin",
        "runs out at 5 Mar 2026 09:00 Europe/Berlin",
    ):
        assert said in text


def test_the_field_card_tells_the_dose_that_was_planned(signed_in, submitter, group, rulebook):
    """Alkaline water asked for 0.9 mL; where bottles differ each label tells its own."""

    def card(*doses):
        entries = [sample(f"S{n}", bottles=(cation_bottle(acid_ml=dose),)) for n, dose in enumerate(doses, 1)]
        made = draft(submitter, group, rulebook, *entries)
        return text_of(signed_in(submitter).get(f"/consignments/{made.number}/field-card/").content)

    assert "0.9 mL of 1 mol/L nitric acid" in card(0.9, 0.9)
    assert "as much as stands on the label of each bottle" in card(0.9, 0.5)
    usual = card(None)
    assert "0.5 mL of 1 mol/L nitric acid" in usual


def test_the_blank_card_is_open_to_everybody_and_one_page(client, rulebook):
    answer = client.get("/field-card/")
    assert answer["Content-Type"] == "application/pdf"
    assert len(pages(answer.content, 40)) == 1


@pytest.mark.parametrize("paper", ["labels/?form=tube&first=1", "packing-list/", "field-card/"])
def test_papers_are_for_the_group_and_the_laboratory(
    consignment, submitter, manager, stranger, signed_in, client, paper
):
    address = f"/consignments/{consignment.number}/{paper}"
    for person in (submitter, manager):
        assert signed_in(person).get(address)["Content-Type"] == "application/pdf"
    assert signed_in(stranger).get(address).status_code == 404
    assert client.get(address).status_code == 302


@pytest.mark.parametrize(
    "question", ["form=tube&first=0", "form=tube&first=x", "form=other&first=1", "form=tube"]
)
def test_a_question_for_labels_that_cannot_be_is_answered_in_the_form(
    consignment, submitter, signed_in, question
):
    answer = signed_in(submitter).get(f"/consignments/{consignment.number}/labels/?{question}")
    assert answer.status_code == 422
    assert answer.context["form"].errors


def test_printing_asks_the_same_for_2_and_26_bottles(
    submitter, group, rulebook, signed_in, django_assert_max_num_queries
):
    browser = signed_in(submitter)
    for many in (1, 13):
        consignment = sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(many)))
        for paper in ("labels/?form=tube&first=1", "packing-list/", "field-card/"):
            with django_assert_max_num_queries(7):
                browser.get(f"/consignments/{consignment.number}/{paper}")


@given(st.text(max_size=80), st.text(max_size=80))
def test_any_text_prints_on_a_label(own_id, site):
    assert width_of(fitted(own_id, PLAIN, 8, 60), PLAIN, 8) <= 60.01
    assert "\n" not in printable(site)


@given(st.text(min_size=1, max_size=60))
def test_any_text_makes_a_readable_pdf(text):

    prepare()
    file = BytesIO()
    canvas = Canvas(file, pagesize=(200, 80))
    _draw(canvas, Label("B23456789", text, text, text, text, text), 0, 0, 200, 80)
    canvas.save()
    assert file.getvalue().startswith(b"%PDF")


def test_a_laboratory_adds_a_size_of_its_own(settings):
    from intake.papers.formats import formats

    settings.LABEL_FORMATS = [
        {"code": "own", "name": "40 × 20 mm", "page_mm": (40, 20), "label_mm": (40, 20)}
    ]
    settings.LABEL_FORMAT = "own"
    assert isinstance(formats()["own"], LabelFormat)
    assert default_format().code == "own"

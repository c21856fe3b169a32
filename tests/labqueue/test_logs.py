"""Logs: one JSON object a line, with the request's id and without personal data."""

from __future__ import annotations

import io
import json
import logging

import pytest
from django.test import RequestFactory

from labqueue.logs import JsonLines, RequestFacts
from labqueue.middleware import RequestId


@pytest.fixture
def lines():
    """What is logged, in the form production uses, read back."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.addFilter(RequestFacts())
    handler.setFormatter(JsonLines())
    loggers = [logging.getLogger("labqueue"), logging.getLogger("django.request")]
    for one in loggers:
        one.addHandler(handler)
    held = loggers[0].level
    loggers[0].setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in stream.getvalue().splitlines()]
    loggers[0].setLevel(held)
    for one in loggers:
        one.removeHandler(handler)


def test_every_request_leaves_one_line_with_its_id(client, lines, db):
    answer = client.get("/health/")
    (line,) = lines()
    assert line["request_id"] == answer.headers["X-Request-ID"]
    assert (line["method"], line["route"], line["status"]) == ("GET", "health/", 200)
    assert line["took_ms"] >= 0


def test_person_is_logged_by_number_alone(signed_in, submitter, lines):
    signed_in(submitter).get("/")
    text = json.dumps(lines(), ensure_ascii=False)
    assert f'"user": {submitter.pk}' in text
    assert submitter.email not in text
    assert submitter.name not in text


def test_address_with_a_secret_in_it_is_logged_as_its_route(client, lines, db):
    client.get("/account/password/new/3-c4n4ry-s3cr3t/")
    client.get("/nowhere/c4n4ry-s3cr3t?q=c4n4ry-s3cr3t")
    text = json.dumps(lines())
    assert "c4n4ry" not in text


def test_error_is_logged_without_the_address_or_mail_addresses(lines):
    def broken(request):
        raise ValueError("no place for mara@lab.example\nforged line")

    request = RequestFactory().get("/nowhere/c4n4ry-s3cr3t")
    try:
        broken(request)
    except ValueError:
        logging.getLogger("django.request").exception(
            "%s: %s", "Server Error", request.path, extra={"request": request}
        )
    (line,) = lines()
    assert line["message"] == "Server Error: /an unknown address"
    assert "mara@" not in line["trace"] and "(mail address)" in line["trace"]


@pytest.mark.parametrize("given", ["short", "x" * 65, "a b c d e f g h", "evil\nline-of-log"])
def test_a_proxys_id_is_taken_only_when_it_is_well_formed(settings, given):
    assert identity_for(settings, behind_proxy=True, given=given) != given


def test_an_id_is_taken_from_the_proxy_and_from_nobody_else(settings):
    given = "a1b2c3d4-e5f6"
    assert identity_for(settings, behind_proxy=True, given=given) == given
    assert identity_for(settings, behind_proxy=False, given=given) != given


def identity_for(settings, *, behind_proxy, given):
    from django.http import HttpResponse

    settings.BEHIND_PROXY = behind_proxy
    request = RequestFactory().get("/", headers={"X-Request-ID": given})
    return RequestId(lambda request: HttpResponse())(request).headers["X-Request-ID"]

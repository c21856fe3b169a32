"""Full disk, read-only database, mail server away: a clear page, nothing lost, mails sent later."""

from __future__ import annotations

import socketserver
import threading
import time

import pytest
from django.db import IntegrityError, OperationalError, connection

from labqueue.views.trouble import FULL, GONE, named
from tests.faults.lab import Person
from tests.labqueue.test_serving import free_port


@pytest.mark.parametrize(
    ("problem", "what"),
    [
        (OperationalError("database or disk is full"), "The disk of the server is full"),
        (
            OperationalError('could not extend file "base/1": No space left on device'),
            "The disk of the server is full",
        ),
        (OperationalError("attempt to write a readonly database"), "The database cannot be written"),
        (
            OperationalError("cannot execute INSERT in a read-only transaction"),
            "The database cannot be written",
        ),
        (OperationalError("database is locked"), "The database was busy for too long"),
        (OperationalError("couldn't get a connection after 20.00 sec"), "The database was busy for too long"),
        (OperationalError("connection refused"), "The database does not answer"),
    ],
)
def test_what_the_database_says_is_told_in_words(problem, what):
    assert named(problem)[0] == what


def test_a_fault_of_ours_is_not_the_databases():
    assert named(IntegrityError("UNIQUE constraint failed")) is None
    assert named(ValueError("is full")) is None
    assert FULL != GONE


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own words; PostgreSQL's are above")
@pytest.mark.parametrize(
    ("pragma", "sentence"),
    [
        ("PRAGMA max_page_count=1;", "The disk of the server is full"),
        ("PRAGMA query_only=1;", "The database cannot be written"),
    ],
)
def test_a_database_that_takes_nothing(laboratory, pragma, sentence):
    lab = laboratory(12, settings="tests.faults.full_disk")
    lab.start()
    rolf = Person(lab, "rolf@lab.example")
    lab.kill()
    before = lab.facts()
    lab.environment["FAULTS_PRAGMA"] = pragma
    lab.start()
    desk = f"/reception/arrivals/{lab.seeded['arrival']}/desk/"
    # Pages go on as long as the session's moment can be noted.
    assert rolf.get(desk).status in (200, 503)
    answers = [
        rolf.post(desk, {"on": number, "key": ".OK", "token": number}, Accept="application/json")
        for number in lab.seeded["bottles"]
    ]
    # A file that may not grow has room for a few rows yet; then nothing is taken any more.
    refused = [answer for answer in answers if answer.status != 200]
    assert refused
    assert {answer.status for answer in refused} == {503}
    assert sentence in refused[-1].text
    assert "saved by half" in refused[-1].text
    assert refused[-1].headers["Retry-After"]
    lab.kill()
    lab.environment["FAULTS_PRAGMA"] = ""
    facts = lab.facts()
    assert facts["faults"] == []
    assert facts["check_entries"] - before["check_entries"] == len(answers) - len(refused)
    lab.start()
    assert rolf.scan(lab.seeded["arrival"], lab.seeded["bottles"][-1], "again") in ("accepted", "stopped")


class MailServer(socketserver.ThreadingTCPServer):
    """As much of RFC 5321 as takes a mail over."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, port: int) -> None:
        self.taken: list[str] = []
        super().__init__(("127.0.0.1", port), Talk)
        threading.Thread(target=self.serve_forever, daemon=True).start()


class Talk(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        self.say("220 here")
        for line in iter(self.rfile.readline, b""):
            word = line[:4].upper()
            if word == b"DATA":
                self.say("354 go on")
                self.server.taken.append("".join(self.text()))
            self.say("221 bye" if word == b"QUIT" else "250 ok")
            if word == b"QUIT":
                return

    def text(self):
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            yield line.decode()

    def say(self, words: str) -> None:
        self.wfile.write(words.encode() + b"\r\n")


def test_a_mail_server_that_is_away_gets_each_mail_once_it_is_back(laboratory):
    lab = laboratory(2)
    port = free_port()
    lab.environment |= {
        "LABQUEUE_MAIL_HOST": "127.0.0.1",
        "LABQUEUE_MAIL_PORT": str(port),
        "LABQUEUE_MAIL_TLS": "no",
    }
    lab.start()
    stranger = Person(lab)
    stranger.get("/account/password/forgotten/")
    answer = stranger.post("/account/password/forgotten/", {"email": "rolf@lab.example"})
    assert answer.status == 302  # nobody has to wait for the mail server
    lab.kill()
    server = MailServer(port)
    lab.start()  # begins with what was put off
    until = time.monotonic() + 60
    while not server.taken and time.monotonic() < until:
        time.sleep(0.2)
    time.sleep(1)
    server.shutdown()
    letters = [letter for letter in server.taken if "rolf@lab.example" in letter and "password" in letter]
    assert len(letters) == 1

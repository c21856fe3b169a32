"""The production server, started for real and asked over HTTP."""

from __future__ import annotations

import http.client
import json
import socket
import subprocess
import sys
import time

import pytest

from tests.labqueue.production import HOST, ROOT, environment

START_S = 60


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    def __init__(self, port: int, log: object) -> None:
        self.port = port
        self.log = log

    def get(self, path: str, *, https: bool = True, host: str = HOST) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        headers = {"Host": host} | ({"X-Forwarded-Proto": "https"} if https else {})
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        answer.body = answer.read().decode()
        connection.close()
        return answer

    def lines(self) -> list[str]:
        return self.log.read_text(encoding="utf-8").splitlines()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    folder = tmp_path_factory.mktemp("serving")
    port = free_port()
    log = folder / "log"
    with log.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "serve"],
            cwd=ROOT,
            env=environment(folder, LABQUEUE_BIND=f"127.0.0.1:{port}"),
            stdout=out,
            stderr=subprocess.STDOUT,
        )
        try:
            yield _when_up(Server(port, log), process)
        finally:
            process.terminate()
            process.wait(timeout=30)


def _when_up(server: Server, process: subprocess.Popen) -> Server:
    deadline = time.monotonic() + START_S
    while time.monotonic() < deadline and process.poll() is None:
        try:
            server.get("/health/")
            return server
        except OSError:
            time.sleep(0.1)
    pytest.fail("The server did not come up:\n" + "\n".join(server.lines()))


def test_monitor_gets_an_answer_even_without_https(server):
    answer = server.get("/health/", https=False)
    assert answer.status == 200
    told = json.loads(answer.body)
    assert set(told) == {"database", "clock"}
    assert told["database"] == "answers"


def test_plain_http_is_sent_to_https(server):
    answer = server.get("/account/sign-in/", https=False)
    assert answer.status == 301
    assert answer.headers["Location"] == f"https://{HOST}/account/sign-in/"


@pytest.mark.parametrize("path", ["/account/sign-in/", "/nowhere/", "/health/", "/static/nowhere.css"])
def test_every_answer_carries_the_guards(server, path):
    headers = server.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy and "unsafe-eval" not in policy
    for directive in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"):
        assert directive in policy
    assert headers["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["X-Request-ID"]


def test_cookies_are_bound_to_this_host_and_to_https(server):
    cookies = server.get("/account/sign-in/").headers.get_all("Set-Cookie")
    assert cookies
    for cookie in cookies:
        assert cookie.startswith("__Host-")
        for part in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"):
            assert part in cookie
        assert "Domain" not in cookie


def test_a_forged_host_is_refused(server):
    assert server.get("/account/sign-in/", host="evil.example").status == 400


def test_own_assets_are_compressed_and_kept_for_good(server):
    page = server.get("/account/sign-in/").body
    start = page.index("/static/")
    style = server.get(page[start : page.index('"', start)])
    assert style.status == 200
    assert "immutable" in style.headers["Cache-Control"]


def test_the_log_is_lines_of_json_with_the_id_of_the_request(server):
    identity = server.get("/account/sign-in/").headers["X-Request-ID"]
    rows = [json.loads(line) for line in server.lines() if line.startswith("{")]
    assert [row["route"] for row in rows if row["request_id"] == identity] == ["account/sign-in/"]

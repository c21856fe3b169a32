"""A laboratory of its own with a real server, which can be killed, and people who talk to it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlencode

from tests.conftest import PASSWORD
from tests.labqueue.production import ROOT
from tests.labqueue.test_serving import free_port

START_S = 60
#: What a person meets while the server is away.
AWAY = (OSError, http.client.HTTPException)


class Lab:
    """One folder, one database, one server at a time."""

    def __init__(
        self, folder: Path, url: str = "", settings: str = "labqueue.settings", processes: int = 1
    ) -> None:
        self.folder = folder
        self.port = free_port()
        kept = {name: value for name, value in os.environ.items() if not name.startswith("LABQUEUE_")}
        self.environment = kept | {
            "DJANGO_SETTINGS_MODULE": settings,
            "DATABASE_URL": url,
            "LABQUEUE_VAR": str(folder),
            "LABQUEUE_BIND": f"127.0.0.1:{self.port}",
            "LABQUEUE_THREADS": "8",
            "LABQUEUE_PROCESSES": str(processes),
        }
        self.process: subprocess.Popen[bytes] | None = None

    def run(self, *command: str) -> str:
        done = subprocess.run(
            [sys.executable, *command],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def seed(self, bottles: int) -> dict[str, object]:
        return json.loads(self.run("-m", "tests.faults.seed", str(bottles)))

    def facts(self) -> dict[str, object]:
        return json.loads(self.run("-m", "tests.faults.facts"))

    def start(self) -> None:
        command = ["-m", "gunicorn", "-c", "python:labqueue.gunicorn_settings", "labqueue.wsgi"]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, *command],
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        until = time.monotonic() + START_S
        while time.monotonic() < until:
            try:
                if Person(self).get("/health/").status == 200:
                    return
            except AWAY:
                time.sleep(0.05)
        raise AssertionError((self.folder / "log").read_text())

    def kill(self) -> None:
        """End every process of the server at once, with nothing finished (signal 9)."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


class Answer:
    def __init__(self, answer: http.client.HTTPResponse) -> None:
        self.status = answer.status
        self.location = answer.getheader("Location", "")
        self.headers = answer.headers
        self.text = answer.read().decode("utf-8", "replace")


class Person:
    """One browser: keeps cookies, sends forms."""

    def __init__(self, lab: Lab, email: str = "") -> None:
        self.lab = lab
        self.cookies: dict[str, str] = {}
        if email:
            self.get("/account/sign-in/")
            answer = self.post("/account/sign-in/", {"login": email, "password": PASSWORD})
            assert answer.status == 302, answer.text

    def get(self, path: str) -> Answer:
        return self._ask("GET", path, None, {})

    def post(self, path: str, data: Mapping[str, object], **headers: str) -> Answer:
        body = urlencode({**data, "csrfmiddlewaretoken": self.cookies.get("csrftoken", "")}, doseq=True)
        return self._ask(
            "POST", path, body.encode(), {"Content-Type": "application/x-www-form-urlencoded", **headers}
        )

    def upload(self, path: str, field: str, content: bytes) -> Answer:
        mark = uuid.uuid4().hex
        secret = self.cookies.get("csrftoken", "")
        body = (
            f'--{mark}\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n{secret}\r\n'
            f'--{mark}\r\nContent-Disposition: form-data; name="{field}"; filename="a.xlsx"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        ).encode() + content
        body += f"\r\n--{mark}--\r\n".encode()
        return self._ask("POST", path, body, {"Content-Type": f"multipart/form-data; boundary={mark}"})

    def scan(self, arrival: str, number: str, token: str) -> str:
        """Check one bottle at the desk; the tone of what the desk says to it."""
        desk = f"/reception/arrivals/{arrival}/desk/"
        said = self.post(desk, {"on": number, "key": ".OK", "token": token}, Accept="application/json")
        assert said.status == 200, said.text
        return json.loads(said.text)["tone"]

    def _ask(self, method: str, path: str, body: bytes | None, headers: Mapping[str, str]) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.lab.port, timeout=60)
        jar = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        try:
            connection.request(method, path, body, {**headers, "Cookie": jar})
            answer = connection.getresponse()
            for header in answer.headers.get_all("Set-Cookie", []):
                name, _equals, value = header.partition(";")[0].partition("=")
                self.cookies[name] = value
            return Answer(answer)
        finally:
            connection.close()


def hidden(page: Answer, *names: str) -> dict[str, str]:
    """What the hidden fields of a page hold."""
    found = {}
    for name in names:
        fields = re.findall(rf'<input[^>]*name="{name}"[^>]*>', page.text)
        assert fields, f"{page.status}, no {name} in {page.text}"
        found[name] = re.search(r'value="([^"]*)"', fields[0]).group(1)
    return found

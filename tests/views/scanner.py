"""The desk as its script uses it, for tests without a browser."""

from __future__ import annotations

from django.urls import reverse


class Scanner:
    """The desk as its script uses it: it keeps what is on the screen and sends one entry after another."""

    def __init__(self, client, arrival):
        self.client = client
        self.address = reverse("intake:desk", args=[arrival.number])
        self.standing = {"on": "", "asking": "", "marks": ""}

    def __call__(self, text, **more):
        response = self.client.post(
            self.address, {**self.standing, "text": text, **more}, headers={"accept": "application/json"}
        )
        assert response.status_code == 200, response.content[:300]
        answer = response.json()
        self.standing = {name: answer[name] for name in self.standing}
        return answer

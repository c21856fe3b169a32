"""Known and unknown addresses cost the same work; passwords are digested as OWASP asks."""

from __future__ import annotations

import statistics
import time

import pytest
from django.conf import settings
from django.contrib.auth.hashers import Argon2PasswordHasher, get_hasher
from django.core.cache import cache
from django.test import Client, override_settings

pytestmark = pytest.mark.django_db
HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]


def test_passwords_are_digested_by_argon2id():
    """At least 46 MiB at t=1, p=1 (OWASP ASVS 5.0, appendix C); Django takes 100 MiB at t=2, p=8."""
    with override_settings(PASSWORD_HASHERS=HASHERS):
        hasher = get_hasher()
        assert isinstance(hasher, Argon2PasswordHasher)
        assert hasher.encode("words", "a salt of its own").startswith("argon2$argon2id$")
        assert hasher.memory_cost >= 46 * 1024
    source = (settings.BASE_DIR / "labqueue" / "settings.py").read_text("utf-8")
    assert source.index("Argon2PasswordHasher") < source.index("PBKDF2PasswordHasher")


def test_signing_in_takes_as_long_for_an_unknown_address(submitter):
    """Processor time, medians of 15 in turn; the digest is a slow one, as in earnest."""

    def tried(address: str) -> float:
        cache.clear()
        began = time.process_time()
        Client().post("/account/sign-in/", {"login": address, "password": "wrong words entirely"})
        return time.process_time() - began

    slow = ["django.contrib.auth.hashers.PBKDF2PasswordHasher"]
    with override_settings(PASSWORD_HASHERS=slow):
        submitter.set_password("a long enough word for tests")
        submitter.save()
        tried(submitter.email)
        pairs = [(tried(submitter.email), tried("nobody@lab.example")) for _ in range(15)]
    known, unknown = (statistics.median(times) for times in zip(*pairs, strict=True))
    assert abs(known - unknown) < 0.1 * max(known, unknown)

"""The table of answers for keys, sessions, what the laboratory settles, and removing things."""

from __future__ import annotations

from tests.access_bench import Answers

DOORS: dict[str, tuple[Answers, Answers]] = {
    "mfa_list_webauthn": (
        Answers("away", "away", "away", "away", "away"),
        Answers("away", "away", "away", "away", "away"),
    ),
    "mfa_add_webauthn": (
        Answers("door", "away", "away", "away", "away"),
        Answers("door", "away", "away", "away", "away"),
    ),
    "mfa_remove_webauthn": (
        Answers("door", "away", "away", "away", "away"),
        Answers("door", "away", "away", "away", "away"),
    ),
    "mfa_reauthenticate_webauthn": (
        Answers("door", "away", "away", "away", "away"),
        Answers("door", "away", "away", "away", "away"),
    ),
    "intake:sessions": (
        Answers("door", "page", "page", "page", "page"),
        Answers("door", "away", "away", "away", "away"),
    ),
    "intake:lab_policy": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "intake:person_sessions": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "away"),
    ),
    "intake:kept_long_enough": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "intake:person_forget": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "intake:person_factor": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
}

"""Who a session belongs to, and whether the laboratory still waits for their second factor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from allauth.account.auth_backends import AuthenticationBackend
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth import get_user
from django.contrib.sessions.backends.db import SessionStore
from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from intake.choices import Role, SecondFactorFor
from intake.models import LabPolicy, User

#: Under this name a session keeps when it was last seen, in seconds of Unix time.
SEEN_AT = "seen_at"
#: Recovery codes alone are no factor; they stand in for a lost one.
FACTORS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
STAFF = (Role.RECEPTION, Role.MANAGER)


def with_factor_due(people: QuerySet[User]) -> QuerySet[User]:
    """``people``, each with ``factor_due``: a second factor is demanded of them and they have none."""
    policy = LabPolicy.objects.all()
    demanded = Q(Exists(policy.filter(second_factor=SecondFactorFor.EVERYBODY))) | (
        Q(role__in=STAFF) & Q(Exists(policy.filter(second_factor=SecondFactorFor.STAFF)))
    )
    there = Exists(Authenticator.objects.filter(user=OuterRef("pk"), type__in=FACTORS))
    return people.annotate(
        factor_due=ExpressionWrapper(demanded & ~Q(there), output_field=BooleanField()),
    )


class Backend(AuthenticationBackend):
    """allauth's, which also asks in its one query for the person whether their factor is due."""

    def get_user(self, user_id: int) -> User | None:
        person = with_factor_due(User.objects.all()).filter(pk=user_id).first()
        return person if person is not None and self.user_can_authenticate(person) else None


@dataclass(frozen=True, slots=True)
class SignedIn:
    """One place where somebody is signed in. ``seen`` is exact to a minute."""

    pk: int
    key: str
    since: datetime
    seen: datetime
    address: str
    browser: str


#: What browsers call themselves, told apart in this order: later ones also name earlier ones.
BROWSERS = (
    ("Edg", "Edge"),
    ("Firefox", "Firefox"),
    ("Chrom", gettext_lazy("Chrome or Chromium")),
    ("Safari", "Safari"),
)
SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Windows", "Windows"),
    ("Mac OS", "macOS"),
    ("Linux", "Linux"),
)


def _first(told: str, names: tuple[tuple[str, str], ...]) -> str:
    return next((name for part, name in names if part in told), "")


def browser_of(user_agent: str) -> str:
    """The browser and system that a ``User-Agent`` header names, in words; a guess, as headers are."""
    browser, system = _first(user_agent, BROWSERS), _first(user_agent, SYSTEMS)
    named = browser or _("a browser")
    return _("%(browser)s on %(system)s") % {"browser": named, "system": system} if system else named


def _owner(store: SessionStore) -> User | None:
    """Whom the session lets in now: nobody once their password changed or their account is off."""
    request = HttpRequest()
    request.session = store
    found = get_user(request)
    return found if found.is_authenticated else None


def sessions_of(person: User) -> list[SignedIn]:
    """Where ``person`` is signed in, the latest first. Two queries for each session they ever left open."""
    found = []
    for row in UserSession.objects.filter(user=person).order_by("-created_at", "-pk"):
        store = SessionStore(row.session_key)
        if store.exists(row.session_key) and _owner(store) == person:
            seen = store.get(SEEN_AT)
            found.append(
                SignedIn(
                    row.pk,
                    row.session_key,
                    row.created_at,
                    datetime.fromtimestamp(seen, UTC) if seen else row.created_at,
                    row.ip,
                    browser_of(row.user_agent),
                )
            )
    return found

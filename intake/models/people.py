"""People, the groups they send samples for, and invitations."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils.translation import gettext_lazy as _

from intake.choices import Role
from intake.querysets import GroupQuerySet, InvitationQuerySet

SYSTEM_EMAIL = "system@labqueue.invalid"


class UserManager(BaseUserManager["User"]):
    def create_user(
        self, email: str, password: str | None = None, *, name: str, role: str = Role.SUBMITTER
    ) -> User:
        """Make a person. ``password`` ``None`` leaves the account without a usable password."""
        user = self.model(email=self.normalize_email(email).lower(), name=name, role=role)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email=(username or "").lower())

    def system(self) -> User:
        """The actor of what the system does by itself; nobody can sign in as it."""
        user, made = self.get_or_create(
            email=SYSTEM_EMAIL, defaults={"name": "labqueue", "role": Role.SYSTEM}
        )
        if made:
            user.set_unusable_password()
            user.save(update_fields=["password"])
        return user


class User(AbstractBaseUser):
    """A person who signs in with a mail address. People are switched off, never deleted.

    ``language``: a code of ``settings.LANGUAGES``; empty for what their browser asks for.
    ``forgotten_at``: name, address and all else that is personal was removed then, for good.
    """

    email = models.EmailField(_("mail address"), unique=True)
    name = models.CharField(_("name"), max_length=200)
    role = models.CharField(_("role"), max_length=20, choices=Role.choices, default=Role.SUBMITTER)
    zone = models.CharField(_("time zone"), max_length=64, default="UTC")
    language = models.CharField(_("language"), max_length=8, blank=True, default="")
    is_active = models.BooleanField(_("may sign in"), default=True)
    forgotten_at = models.DateTimeField(_("data removed"), null=True, blank=True)
    joined_at = models.DateTimeField(auto_now_add=True)
    groups = models.ManyToManyField("Group", through="Membership", related_name="members")

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    def __str__(self) -> str:
        return self.name or self.email

    @property
    def is_staff(self) -> bool:
        """Whether this person works in the laboratory."""
        return self.role in (Role.RECEPTION, Role.MANAGER)

    @property
    def is_manager(self) -> bool:
        return self.role == Role.MANAGER

    @property
    def is_reception(self) -> bool:
        return self.role == Role.RECEPTION

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name


class Group(models.Model):
    """A research group that sends samples."""

    name = models.CharField(_("name"), max_length=200, unique=True)
    active = models.BooleanField(_("sends samples"), default=True)
    zone = models.CharField(_("usual time zone"), max_length=64, default="UTC")
    created_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[GroupQuerySet] = GroupQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    user = models.ForeignKey(User, on_delete=models.PROTECT)
    group = models.ForeignKey(Group, on_delete=models.PROTECT)
    since = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["user", "group"], name="membership_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user} in {self.group}"


class Invitation(models.Model):
    """An invitation to sign up, bound to an address and a role. Only a digest of its token is kept."""

    email = models.EmailField(_("mail address"))
    role = models.CharField(_("role"), max_length=20, choices=Role.choices)
    group = models.ForeignKey(Group, null=True, blank=True, on_delete=models.PROTECT)
    token_digest = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="invitations_sent")
    invited_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[InvitationQuerySet] = InvitationQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.email} as {self.get_role_display()}"

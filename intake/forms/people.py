"""What is asked about people and groups. Whether an answer will do, the actions say."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from intake.actions.invitations import INVITED_ROLES
from intake.actions.policy import MOST_YEARS
from intake.choices import Role, SecondFactorFor
from intake.forms.once import CarriedNumber, CarriedText, EditForm, Reread
from intake.forms.plain import PlainForm
from intake.forms.zones import ZoneField
from intake.models import Group, User
from intake.passwords import HINT

ROLES = [(role.value, role.label) for role in INVITED_ROLES]


def zone_field(label: object, hint: object = "") -> ZoneField:
    return ZoneField(label=label, help_text=hint)


class InviteForm(PlainForm):
    email = forms.EmailField(
        label=_("Mail address"), widget=forms.EmailInput(attrs={"autocomplete": "off"}), max_length=254
    )
    role = forms.ChoiceField(label=_("Role"), choices=ROLES, widget=forms.RadioSelect, initial=Role.SUBMITTER)
    group = forms.ModelChoiceField(
        label=_("Group"),
        queryset=Group.objects.none(),
        required=False,
        empty_label=_("no group"),
        help_text=_("Needed for a submitter, who sends the samples of a group; add further groups later."),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = Group.objects.all()


class AcceptForm(PlainForm):
    name = forms.CharField(
        label=_("Your name"),
        max_length=200,
        help_text=_("As it should stand beside what you send and do."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    password = forms.CharField(
        label=_("Choose a password"),
        strip=False,
        help_text=HINT,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    zone = zone_field(_("Your time zone"), _("Times are shown to you in this zone, with its name."))


class ProfileForm(EditForm):
    name = forms.CharField(
        label=_("Your name"), max_length=200, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    zone = zone_field(_("Your time zone"))
    language = forms.ChoiceField(
        label=_("Your language"),
        choices=[("", _("what your browser asks for")), *settings.LANGUAGES],
        required=False,
        help_text=_("Of pages and mails. Mails are English where nothing is chosen."),
    )


class GroupForm(EditForm):
    name = forms.CharField(label=_("Name of the group"), max_length=200)
    zone = zone_field(_("Usual time zone of its sampling"), _("A consignment may have another."))


class RoleForm(EditForm):
    role = forms.ChoiceField(label=_("Role"), choices=ROLES)


class MemberForm(PlainForm):
    """Somebody to add to ``group``."""

    person = forms.ModelChoiceField(label=_("Person"), queryset=User.objects.none(), empty_label=None)

    def __init__(self, *args: object, group: Group, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = (
            User.objects.filter(is_active=True)
            .exclude(role=Role.SYSTEM)
            .exclude(groups=group)
            .order_by("name", "pk")
        )


class GroupChoiceForm(PlainForm):
    """A group to add ``person`` to."""

    group = forms.ModelChoiceField(label=_("Group"), queryset=Group.objects.none(), empty_label=None)

    def __init__(self, *args: object, person: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = Group.objects.exclude(members=person)


class PolicyForm(Reread):
    """What holds for the whole laboratory, on the version it was read at."""

    version = CarriedNumber(min_value=0, max_value=2**31 - 1, required=False, widget=forms.HiddenInput)
    second_factor = forms.ChoiceField(
        label=_("Who needs a second factor"),
        choices=SecondFactorFor.choices,
        widget=forms.RadioSelect,
        help_text=_("Whoever has none is led to setting one up before anything else."),
    )
    keep_years = forms.IntegerField(
        label=_("Years for which consignments are kept"),
        min_value=1,
        max_value=MOST_YEARS,
        help_text=_("Counted from the last thing done to it. Nothing is removed before."),
        widget=forms.NumberInput(attrs={"class": "input-short"}),
    )


class LostFactorForm(PlainForm):
    reason = forms.CharField(
        label=_("How you made sure that it is this person who asks"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Such as: called back on the number in the staff list."),
    )


class ForgetForm(PlainForm):
    reason = forms.CharField(
        label=_("Who asked for it and when"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Without the name, which is to go, such as: by letter of 3 March."),
    )


class PurgeForm(Reread):
    """Old consignments to remove: those that stood on the page."""

    numbers = CarriedText(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Why"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Such as: kept as long as the contract asks."),
    )


class SwitchOffForm(PlainForm):
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=500,
        help_text=_("For the record, such as: left the group in June."),
    )

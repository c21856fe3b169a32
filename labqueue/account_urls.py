"""The doors: only those pages of allauth that this site uses, under its names for them."""

from allauth.account import views as account
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as totp
from allauth.mfa.webauthn import views as keys
from django.urls import path, re_path
from django.views.generic import RedirectView

urlpatterns = [
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    # allauth's mails ask where to sign up; nobody can here.
    path("by-invitation/", RedirectView.as_view(pattern_name="account_login"), name="account_signup"),
    path("switched-off/", account.account_inactive, name="account_inactive"),
    path("confirm-it-is-you/", account.reauthenticate, name="account_reauthenticate"),
    path("password/", account.password_change, name="account_change_password"),
    path("password/first/", account.password_set, name="account_set_password"),
    path("password/forgotten/", account.password_reset, name="account_reset_password"),
    path("password/forgotten/sent/", account.password_reset_done, name="account_reset_password_done"),
    path(
        "password/new/done/",
        account.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    re_path(
        r"^password/new/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        account.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path("second-factor/", mfa.index, name="mfa_index"),
    path("second-factor/code/", mfa.authenticate, name="mfa_authenticate"),
    path("second-factor/confirm/", mfa.reauthenticate, name="mfa_reauthenticate"),
    path("second-factor/app/on/", totp.activate_totp, name="mfa_activate_totp"),
    path("second-factor/app/off/", totp.deactivate_totp, name="mfa_deactivate_totp"),
    # allauth leads here after a key was removed; the keys stand on the page of all factors.
    path("second-factor/keys/", RedirectView.as_view(pattern_name="mfa_index"), name="mfa_list_webauthn"),
    path("second-factor/keys/new/", keys.add_webauthn, name="mfa_add_webauthn"),
    path("second-factor/keys/<int:pk>/remove/", keys.remove_webauthn, name="mfa_remove_webauthn"),
    path("second-factor/confirm/key/", keys.reauthenticate_webauthn, name="mfa_reauthenticate_webauthn"),
    path("second-factor/codes/", codes.view_recovery_codes, name="mfa_view_recovery_codes"),
    path("second-factor/codes/new/", codes.generate_recovery_codes, name="mfa_generate_recovery_codes"),
    path("second-factor/codes/file/", codes.download_recovery_codes, name="mfa_download_recovery_codes"),
]

"""Settings of the site, read from the environment (the README has the table)."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from labqueue import database

BASE_DIR = Path(__file__).resolve().parent.parent


def flag(name: str, default: bool = False) -> bool:
    """A yes-or-no variable; anything but the words listed is refused, never guessed."""
    value = os.environ.get(name, "").strip().lower()
    if value in ("",):
        return default
    if value in ("1", "true", "yes", "on"):
        return True
    if value in ("0", "false", "no", "off"):
        return False
    raise ImproperlyConfigured(f"{name} must be yes or no, not {value!r}.")


def listed(name: str) -> list[str]:
    return [part.strip() for part in os.environ.get(name, "").split(",") if part.strip()]


def number(name: str, default: int) -> int:
    value = os.environ.get(name, "").strip()
    if not value:
        return default
    if not value.isascii() or not value.isdigit():
        raise ImproperlyConfigured(f"{name} must be a whole number, not {value!r}.")
    return int(value)


PRODUCTION = flag("LABQUEUE_PRODUCTION")
DEBUG = flag("LABQUEUE_DEBUG", default=False)
VAR_DIR = (BASE_DIR / (os.environ.get("LABQUEUE_VAR") or "var")).resolve()
VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

TRY_OUT_KEY = "for-trying-out-on-this-machine-only-" + "0" * 20
SECRET_KEY = os.environ.get("LABQUEUE_SECRET_KEY", "") or ("" if PRODUCTION else TRY_OUT_KEY)
if not SECRET_KEY:
    raise ImproperlyConfigured(
        "LABQUEUE_SECRET_KEY is empty. Set it to a long random text that stays the same and that nobody "
        "else knows; this makes one: python3 -c 'import secrets; print(secrets.token_urlsafe(60))'"
    )
ALLOWED_HOSTS = listed("LABQUEUE_HOSTS") or ([] if PRODUCTION else ["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if PRODUCTION else []

# How the server of `make serve` is reached: by a proxy that ends HTTPS and says so in a header
# of its own, or directly with a certificate.
BIND = os.environ.get("LABQUEUE_BIND") or "127.0.0.1:8000"
THREADS = number("LABQUEUE_THREADS", 8)
PROCESSES = number("LABQUEUE_PROCESSES", 1)
BEHIND_PROXY = flag("LABQUEUE_BEHIND_PROXY")
CERTIFICATE = os.environ.get("LABQUEUE_CERTIFICATE", "")
CERTIFICATE_KEY = os.environ.get("LABQUEUE_CERTIFICATE_KEY", "")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_tables2",
    "django_tasks",
    "django_tasks_db",
    "intake",
    "labqueue",
]

MIDDLEWARE = [
    "labqueue.middleware.RequestId",
    "intake.middleware.moment_of_request",
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "intake.middleware.WithoutNul",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "intake.middleware.session_age",
    "intake.middleware.language_of_person",
    "intake.middleware.SecondFactorFirst",
    "intake.middleware.keep_nothing",
    "django.contrib.messages.middleware.MessageMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "labqueue.urls"
WSGI_APPLICATION = "labqueue.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
            # Stored sentences stand on nearly every page; each is said in the reader's language.
            "builtins": ["intake.templatetags.phrasebook"],
        },
    },
]

# One machine: a file of SQLite. More: PostgreSQL, with a pool of connections in each process.
DATABASES = {
    "default": database.described(
        os.environ.get("DATABASE_URL", "").strip(),
        path=VAR_DIR / "labqueue.sqlite3",
        connections=THREADS + 2,
    )
}

if PROCESSES != 1 and (PROCESSES < 1 or not os.environ.get("DATABASE_URL", "").strip()):
    raise ImproperlyConfigured(
        "LABQUEUE_PROCESSES must be 1 with SQLite, which has one writer at a time; with PostgreSQL "
        "(DATABASE_URL), 1 or more."
    )

AUTH_USER_MODEL = "intake.User"
AUTHENTICATION_BACKENDS = ["intake.signing.Backend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": "intake.passwords.LengthValidator"},
    {"NAME": "intake.passwords.NotThePlaceValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = False
ACCOUNT_ADAPTER = "intake.adapter.AccountAdapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
# Browsers hand out keys over HTTPS, and over plain HTTP on this machine only (for trying out).
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not PRODUCTION
# Whose address is counted when somebody guesses: what the proxy says, if it is the only way in.
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_PROXY else 0
# The doors: sessions end after half an hour of rest or eight hours in all (the ranges that OWASP's
# session management cheat sheet gives), a link to set a new password after one hour.
SESSION_IDLE_SECONDS = 30 * 60
SESSION_COOKIE_AGE = 8 * 60 * 60
PASSWORD_RESET_TIMEOUT = 60 * 60
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = True  # the same work, and so the same time, for every address
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_LOGIN_ON_PASSWORD_RESET = False
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_REAUTHENTICATION_TIMEOUT = 15 * 60
ACCOUNT_FORMS = {
    "login": "intake.forms.doors.SignInForm",
    "reset_password": "intake.forms.doors.ForgottenForm",
    "reset_password_from_key": "intake.forms.doors.ResetPasswordForm",
    "change_password": "intake.forms.doors.ChangePasswordForm",
    "set_password": "intake.forms.doors.FirstPasswordForm",
    "reauthenticate": "intake.forms.doors.ItIsYouForm",
}
MFA_FORMS = {
    "authenticate": "intake.forms.doors.CodeForm",
    "reauthenticate": "intake.forms.doors.ItIsYouCodeForm",
    "activate_totp": "intake.forms.doors.SwitchOnCodesForm",
    "add_webauthn": "intake.forms.doors.AddKeyForm",
}
MFA_ADAPTER = "intake.adapter.SecondFactorAdapter"
MFA_TOTP_ISSUER = "labqueue"
MFA_ALLOW_UNVERIFIED_EMAIL = True  # the invitation came to this address
# Attempts are counted where all processes of this machine see them.
if PRODUCTION:
    CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
            "LOCATION": VAR_DIR / "cache",
        }
    }
# The doors end here.

LANGUAGE_CODE = "en"
# Languages that are complete; without this line parts of libraries would answer in the browser's.
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "labqueue" / "locale"]
# Figures are written alike in every language (labqueue/formats).
FORMAT_MODULE_PATH = "labqueue.formats"
# The language chosen in the foot of a page, for whoever is not signed in.
LANGUAGE_COOKIE_NAME = "language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SAMESITE = "Lax"
TIME_ZONE = os.environ.get("LABQUEUE_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
# Without collected files, as in the demo, they are found where they were written.
WHITENOISE_USE_FINDERS = not PRODUCTION
WHITENOISE_AUTOREFRESH = not PRODUCTION
# Refused and measured bottles are kept this long (our choice; a laboratory has its own rule).
DISCARD_AFTER_DAYS = number("LABQUEUE_DISCARD_AFTER_DAYS", 30)
FIXTURE_DIRS = [BASE_DIR / "fixtures"]

EMAIL_HOST = os.environ.get("LABQUEUE_MAIL_HOST", "")
EMAIL_PORT = number("LABQUEUE_MAIL_PORT", 587)
EMAIL_HOST_USER = os.environ.get("LABQUEUE_MAIL_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("LABQUEUE_MAIL_PASSWORD", "")
EMAIL_USE_TLS = flag("LABQUEUE_MAIL_TLS", default=True)
EMAIL_TIMEOUT = 20
# Without a mail server, mails are written to files: for trying out only.
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'filebased'}.EmailBackend"
EMAIL_FILE_PATH = VAR_DIR / "mail"
DEFAULT_FROM_EMAIL = os.environ.get("LABQUEUE_MAIL_FROM") or "labqueue@localhost"
# Mails link to the site under this address.
SITE_ADDRESS = (
    os.environ.get("LABQUEUE_ADDRESS")
    or (f"https://{ALLOWED_HOSTS[0]}" if PRODUCTION and ALLOWED_HOSTS else "http://127.0.0.1:8000")
).rstrip("/")

# Work beside the requests: in this process, or by worker processes on a queue in the database.
WORKERS = flag("LABQUEUE_WORKERS")
TASKS = {
    "default": {
        "BACKEND": "django_tasks_db.DatabaseBackend"
        if WORKERS
        else "django_tasks.backends.immediate.ImmediateBackend"
    }
}

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
if PRODUCTION:
    # A browser takes a cookie of this prefix only over HTTPS, and for this host alone.
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    LANGUAGE_COOKIE_NAME = "__Host-language"
    LANGUAGE_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^health/$"]
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# Being on browsers' built-in list is for the owner of the whole domain to decide.
SILENCED_SYSTEM_CHECKS = ["security.W021"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request": {"()": "labqueue.logs.RequestFacts"}},
    "formatters": {
        "lines": {"()": "labqueue.logs.JsonLines"},
        "plain": {"format": "{levelname} {name} {message}", "style": "{"},
    },
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "filters": ["request"],
            "formatter": "lines" if PRODUCTION else "plain",
        }
    },
    "root": {"handlers": ["stderr"], "level": "INFO" if PRODUCTION else "WARNING"},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "django.server": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        # One line of labqueue.requests tells of every answer; a refused page needs no second.
        "django.request": {"handlers": ["stderr"], "level": "ERROR", "propagate": False},
    },
}
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DJANGO_TABLES2_TEMPLATE = "_parts/_table.html"
DJANGO_TABLES2_PAGE_RANGE = 7

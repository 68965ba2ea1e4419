"""Settings, read from the environment; DEVELOPERS.md lists every variable.

REGISTRY_MODE is `development`, `demo`, `test` or `production`. Production has no
defaults for what must be secret or chosen, and nonsense is refused with one line.
"""

import atexit
import logging
import os
import secrets
import shutil
import sys
import tempfile
from contextlib import suppress
from datetime import timedelta
from ipaddress import ip_address
from pathlib import Path
from zoneinfo import available_timezones

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

ROOT = Path(__file__).resolve().parent.parent
MODES = ("development", "demo", "test", "production")
LOOPBACK = ["127.0.0.1", "localhost", "[::1]"]


# Reading the environment


def text(name: str, default: str = "") -> str:
    """Return a variable without the blanks round it; empty counts as not set."""
    return os.environ.get(name, "").strip() or default


def number(name: str, default: int, least: int, most: int) -> int:
    """Return a variable as a whole number within bounds."""
    value = text(name, str(default))
    if not (value.isdecimal() and least <= int(value) <= most):
        raise ImproperlyConfigured(
            f"{name} must be a whole number from {least} to {most}, not {value!r}"
        )
    return int(value)


def words(name: str) -> list[str]:
    """Return a variable as the words between its commas."""
    return [word.strip() for word in text(name).split(",") if word.strip()]


def choice(name: str, default: str, among: tuple[str, ...] | set[str]) -> str:
    """Return a variable that must be one of several words."""
    value = text(name, default)
    if value not in among:
        known = f": one of {', '.join(among)}" if len(among) < 9 else ""
        raise ImproperlyConfigured(f"{name} cannot be {value!r}{known}")
    return value


# What kind of start this is


def default_mode() -> str:
    """Return the mode of a start that does not name one.

    Where only the demo has been set up, every command means the demo.
    """
    if "PYTEST_VERSION" in os.environ:
        return "test"
    real, demo = ROOT / ".data", ROOT / ".data" / "demo"
    only_demo = (demo / "registry.sqlite3").exists() and not (
        (real / "registry.sqlite3").exists() or text("DATABASE_URL")
    )
    return "demo" if only_demo or sys.argv[1:2] == ["demo"] else "development"


def refuse_real_use_of_the_demo() -> None:
    """Keep the demo's published log-ins away from anything set up for real use."""
    if sys.argv[1:2] == ["demo"] and MODE != "demo":
        raise ImproperlyConfigured(
            f"the demo refuses to start with REGISTRY_MODE={MODE}; unset it, or set "
            "up the real register with migrate and serve"
        )
    meant = [n for n in ("REGISTRY_SECRET_KEY", "REGISTRY_HOSTS") if text(n)]
    if MODE == "demo" and meant:
        raise ImproperlyConfigured(
            f"the demo refuses to start with production settings: unset "
            f"{' and '.join(meant)}"
        )


def data_directory() -> Path:
    """Return where this start keeps what it writes."""
    if MODE == "test":
        scratch = tempfile.mkdtemp(prefix="registry-test-")
        atexit.register(shutil.rmtree, scratch, ignore_errors=True)
        return Path(scratch)
    base = Path(text("REGISTRY_DATA", str(ROOT / ".data"))).absolute()
    directory = base / "demo" if MODE == "demo" else base
    try:
        directory.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(
            f"{directory} cannot be made ({error.strerror}): set REGISTRY_DATA to a "
            "directory that can be written"
        ) from error
    return directory


MODE = choice("REGISTRY_MODE", default_mode(), MODES)
PRODUCTION = MODE == "production"
DEBUG = MODE == "development"
refuse_real_use_of_the_demo()
DATA = data_directory()


# Secrets and hosts


def secret_key() -> str:
    """Return the given secret; outside production one is made and kept in DATA."""
    given = text("REGISTRY_SECRET_KEY")
    if PRODUCTION and (len(given) < 50 or len(set(given)) < 5):
        raise ImproperlyConfigured(
            "REGISTRY_SECRET_KEY must hold at least 50 random characters, such as "
            'python3 -c "import secrets; print(secrets.token_urlsafe(50))" prints'
        )
    return given or kept_secret(DATA / "secret-key")


def kept_secret(path: Path) -> str:
    """Return the secret in a file only its owner reads; make it the first time."""
    if not path.exists():
        fresh = path.with_name(f"{path.name}.{os.getpid()}")
        fresh.touch(mode=0o600)
        fresh.write_text(secrets.token_urlsafe(50))
        # A link, unlike a rename, leaves the secret of a quicker start in its place.
        with suppress(FileExistsError):
            path.hardlink_to(fresh)
        fresh.unlink()
    return path.read_text()


def allowed_hosts() -> list[str]:
    """Return the names under which the registry may be asked for."""
    hosts = words("REGISTRY_HOSTS")
    if not PRODUCTION:
        return [*LOOPBACK, *hosts]
    if not hosts:
        raise ImproperlyConfigured(
            "REGISTRY_HOSTS must name the hosts people type, such as "
            "registry.example.org, with commas between them"
        )
    for host in hosts:
        if "*" in host or "/" in host or ":" in host or " " in host:
            raise ImproperlyConfigured(
                f"REGISTRY_HOSTS must hold bare host names, not {host!r}"
            )
    return hosts


def proxy() -> str:
    """Return the address of the proxy whose X-Forwarded headers are believed."""
    address = text("REGISTRY_PROXY")
    try:
        return address and str(ip_address(address))
    except ValueError:
        raise ImproperlyConfigured(
            f"REGISTRY_PROXY must be the proxy's IP address, not {address!r}"
        ) from None


SECRET_KEY = secret_key()
ALLOWED_HOSTS = allowed_hosts()
PROXY = proxy()
THREADS = number("REGISTRY_THREADS", 8, least=1, most=64)


# The database


def database() -> dict[str, object]:
    """Return SQLite beside the code, or what DATABASE_URL names."""
    url = text("DATABASE_URL", f"sqlite:///{DATA / 'registry.sqlite3'}")
    scheme = url.partition(":")[0]
    if scheme not in {"sqlite", "postgres", "postgresql"}:
        raise ImproperlyConfigured(
            "DATABASE_URL must begin with postgres:// or sqlite:///"
        )
    try:
        parsed: dict[str, object] = dict(dj_database_url.parse(url, conn_max_age=0))
    except ValueError as error:
        raise ImproperlyConfigured(f"DATABASE_URL cannot be read: {error}") from error
    return parsed | (sqlite() if scheme == "sqlite" else postgresql(parsed))


def sqlite() -> dict[str, object]:
    """Return what makes SQLite fit for several writers and for triggers."""
    pragmas = [
        "journal_mode=WAL",
        "synchronous=" + ("OFF" if MODE == "test" else "FULL"),
        # Without it INSERT OR REPLACE removes a row and no DELETE trigger fires.
        "recursive_triggers=ON",
    ]
    return {
        "OPTIONS": {
            # SQLite ignores SELECT FOR UPDATE; taking the write lock at BEGIN is
            # what keeps two writers from deciding on the same facts.
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "; ".join(f"PRAGMA {pragma}" for pragma in pragmas),
        },
        # A file, not memory: a live server's threads must not share one connection.
        "TEST": {"NAME": str(DATA / "test.sqlite3")},
    }


def postgresql(parsed: dict[str, object]) -> dict[str, object]:
    """Return a pool with a connection for each thread; none while testing."""
    options = dict(parsed.get("OPTIONS") or {})  # type: ignore[call-overload]
    if MODE != "test":
        options["pool"] = {"min_size": 1, "max_size": THREADS + 2, "timeout": 10}
    return {"OPTIONS": options, "CONN_HEALTH_CHECKS": True}


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"


# Applications and requests

INSTALLED_APPS = [
    "registry.apps.RegistryConfig",
    "whitenoise.runserver_nostatic",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "simple_history",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "registry.web.middleware.ActorMiddleware",
    "registry.web.middleware.RefusalMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "registry.urls"
WSGI_APPLICATION = "registry.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "registry.web.context.registry",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
FIXTURE_DIRS = [ROOT / "fixtures"]


# People, passwords, sessions

AUTH_USER_MODEL = "registry.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
LOGIN_URL = "log-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = LOGIN_URL

_ARGON2 = "django.contrib.auth.hashers.Argon2PasswordHasher"
# Argon2 takes 0.14 s on purpose; tests make people by the hundred.
_FOR_TESTS = ["django.contrib.auth.hashers.MD5PasswordHasher"] * (MODE == "test")
PASSWORD_HASHERS = [
    *_FOR_TESTS,
    _ARGON2,
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
]

# Half an hour without a request, or closing the browser, ends a session.
SESSION_COOKIE_AGE = 30 * 60
SESSION_SAVE_EVERY_REQUEST = True
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
SESSION_COOKIE_SECURE = PRODUCTION

# Locked is a user name *from one address*: a stranger who guesses at an officer's
# password locks out himself, not the officer. Trying again does not lengthen it.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_ENABLE_ADMIN = False
AXES_LOCKOUT_TEMPLATE = "errors/429.html"
AXES_HTTP_RESPONSE_CODE = 429
# The registry keeps its own account of every log-in, made or refused.
AXES_DISABLE_ACCESS_LOG = True


# What a browser may do

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
CSRF_COOKIE_SECURE = PRODUCTION
CSRF_COOKIE_HTTPONLY = True
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS if PRODUCTION]
SECURE_SSL_REDIRECT = PRODUCTION
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PROXY else None
_A_YEAR = 365 * 24 * 60 * 60
SECURE_HSTS_SECONDS = (
    number("REGISTRY_HSTS_SECONDS", _A_YEAR, 0, 2 * _A_YEAR) if PRODUCTION else 0
)
SECURE_HSTS_INCLUDE_SUBDOMAINS = PRODUCTION
SECURE_HSTS_PRELOAD = PRODUCTION


# Words, days, files

LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = choice("REGISTRY_TIME_ZONE", "UTC", available_timezones())

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STATIC_ROOT.mkdir(exist_ok=True)
_STATIC = "whitenoise.storage.CompressedManifestStaticFilesStorage"
_PLAIN = "django.contrib.staticfiles.storage.StaticFilesStorage"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": _STATIC if PRODUCTION else _PLAIN},
}
WHITENOISE_USE_FINDERS = not PRODUCTION

# Papers that were handed in. They have no address: only a view that asks who wants
# them, and records the look, gives them out.
MEDIA_ROOT = DATA / "documents"
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
UPLOAD_LIMIT = number("REGISTRY_UPLOAD_MEGABYTES", 25, 1, 500) * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 20

# Reasons are whole sentences, longer than the 100 characters of the default.
SIMPLE_HISTORY_HISTORY_CHANGE_REASON_USE_TEXT_FIELD = True


def is_no_advice(record: logging.LogRecord) -> bool:
    """Tell whether a log record is more than WeasyPrint's wish for another library.

    It subsets fonts without it as well, and says so for each font of each paper.
    """
    return "HarfBuzz-Subset" not in record.getMessage()


LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {
        "no_advice": {
            "()": "django.utils.log.CallbackFilter",
            "callback": is_no_advice,
        }
    },
    "formatters": {
        "plain": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}
    },
    "handlers": {
        "stderr": {"class": "logging.StreamHandler", "formatter": "plain"},
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        "axes": {"level": "ERROR"},
        # Anybody can ask for a wrong host; a traceback for each fills the log.
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        "weasyprint": {"filters": ["no_advice"]},
    },
}

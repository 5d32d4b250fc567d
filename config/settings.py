"""All settings in one place; what differs between machines comes from the environment (README)."""

from pathlib import Path

from django.utils.csp import CSP

from config import env
from config.secrets import kept_secret

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("DATA_DIR", BASE_DIR / "var")

SECRET_KEY = kept_secret(DATA_DIR / "secrets" / "django")
DEBUG = env.flag("DEBUG")
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS") or ["*"]
CSRF_TRUSTED_ORIGINS = env.words("TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "config",
    "archive",
    "certification",
    "inspections",
    "buildlog",
    "process",
    "evidence",
    "parts",
    "journal",
    "accounts",
    "foundation",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "django_htmx",
    "django_tasks_db",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

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
                "inspections.context.frame",
            ],
        },
    },
]

DATABASES = {"default": env.database("DATABASE_URL", DATA_DIR / "record.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "accounts:projects"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "accounts.adapter.ClosedDoorAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = True
# A phone in the shop must never meet a sign-in prompt: half a year, renewed by use.
SESSION_COOKIE_AGE = 182 * 24 * 3600
# Read from this process's memory, written through to the database.
SESSION_ENGINE = "django.contrib.sessions.backends.cached_db"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# HTTPS is what the address in front says it is (BEHIND_HTTPS), or what `up --https` speaks itself (SERVES_HTTPS, set by
# it). The latter goes without HSTS, which would lock a phone out once the same address serves plain HTTP again, and its
# cookies have names of their own, because a secure cookie keeps a plain one of that name and host from being set.
BEHIND_HTTPS = env.flag("BEHIND_HTTPS")
SERVES_HTTPS = env.flag("SERVES_HTTPS")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_HTTPS or SERVES_HTTPS
if SERVES_HTTPS:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SECURE_SSL_REDIRECT = BEHIND_HTTPS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if BEHIND_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_HTTPS
SECURE_HSTS_PRELOAD = BEHIND_HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_HTTPS else None
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF],
    "worker-src": [CSP.SELF],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF, "blob:"],
    "media-src": [CSP.SELF, "blob:"],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "form-action": [CSP.SELF],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
}

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "config.statics.StaticFiles"},
}

# Originals are evidence and are never rewritten; renditions and exports can be made again.
ORIGINALS_DIR = DATA_DIR / "originals"
DOCUMENTS_DIR = DATA_DIR / "documents"
RENDITIONS_DIR = DATA_DIR / "renditions"
EXPORTS_DIR = DATA_DIR / "exports"
# The families that are embedded in prints; the words of marks are lettered with them too.
FONTS_DIR = BASE_DIR / "foundation" / "fonts"
PHOTO_MAX_BYTES = env.whole("PHOTO_MAX_MB", 60, least=1) * 1024 * 1024
CLIP_MAX_BYTES = env.whole("CLIP_MAX_MB", 200, least=1) * 1024 * 1024
DOCUMENT_MAX_BYTES = env.whole("DOCUMENT_MAX_MB", 60, least=1) * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
# A list of tasks has at most 2,000; its page sends five fields for each.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 10_500
FILE_UPLOAD_MAX_MEMORY_SIZE = 0
FILE_UPLOAD_TEMP_DIR = env.made(DATA_DIR / "incoming")
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.TemporaryFileUploadHandler"]

# With a worker beside the web process (see `up`) remakeable work is queued; without one it runs at once.
WORKER = env.flag("WORKER")
TASKS = {
    "default": {
        "BACKEND": "django_tasks_db.DatabaseBackend" if WORKER else "django.tasks.backends.immediate.ImmediateBackend",
    }
}

CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "loggers": {
        "django.tasks": {"level": "WARNING"},
        "django_tasks_db": {"level": "WARNING"},
        # What was refused or not found is an answer, not trouble: only errors of our own are told with a traceback.
        "django.request": {"level": "ERROR"},
    },
    "root": {"handlers": ["console"], "level": env.text("LOG_LEVEL", "WARNING")},
}

"""The settings of the page that helps a phone trust the server's certificate: plain HTTP, no database, no accounts."""

from config.settings import *  # noqa: F403

INSTALLED_APPS = ["foundation", "django.contrib.staticfiles", "django_htmx"]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
ROOT_URLCONF = "config.trust"
DATABASES = {}
TEMPLATES[0]["OPTIONS"]["context_processors"] = []  # type: ignore[index] # noqa: F405

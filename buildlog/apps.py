from django.apps import AppConfig


class BuildlogConfig(AppConfig):
    name = "buildlog"

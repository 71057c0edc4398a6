from django.apps import AppConfig


class FiringsConfig(AppConfig):
    name = "studio.firings"
    label = "firings"
    default_auto_field = "django.db.models.BigAutoField"

from django.apps import AppConfig


class WaresConfig(AppConfig):
    name = "studio.wares"
    label = "wares"
    default_auto_field = "django.db.models.BigAutoField"

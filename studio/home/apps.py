from django.apps import AppConfig


class HomeConfig(AppConfig):
    name = "studio.home"
    label = "home"
    default_auto_field = "django.db.models.BigAutoField"

from django.apps import AppConfig


class ParcelsConfig(AppConfig):
    name = "studio.parcels"
    label = "parcels"
    default_auto_field = "django.db.models.BigAutoField"

"""Where are Today, the records and the settings?"""

from django.urls import path

from studio.home import views

urlpatterns = [
    path("", views.today, name="today"),
    path("records/", views.records, name="records"),
    path("records/<int:change_id>/undo/", views.undo, name="undo"),
    path("settings/", views.settings, name="settings"),
]

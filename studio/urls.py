"""Which room answers which address?"""

from django.urls import include, path

urlpatterns = [
    path("", include("studio.web.urls")),
]

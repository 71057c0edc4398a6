"""Which room answers which address?"""

from django.urls import include, path

urlpatterns = [
    path("", include("studio.firings.urls")),
    path("", include("studio.home.urls")),
    path("", include("studio.parcels.urls")),
    path("", include("studio.planning.urls")),
    path("", include("studio.sales.urls")),
    path("", include("studio.web.urls")),
    path("", include("studio.wares.urls")),
]

"""Which addresses does the sales room answer?"""

from django.urls import path

from studio.sales import views

app_name = "sales"
urlpatterns = [
    path("sales/", views.sales, name="sales"),
    path("sales/new/", views.new_sale, name="new-sale"),
    path("sales/<int:sale_id>/", views.sale, name="sale"),
    path("sales/<int:sale_id>/edit/", views.edit_sale, name="edit-sale"),
    path("sales/<int:sale_id>/wants/", views.want, name="want"),
    path("sales/<int:sale_id>/list/", views.offer, name="offer"),
    path("sales/<int:sale_id>/listed/", views.listed, name="listed"),
    path("sales/wants/<int:want_id>/drop/", views.drop_want, name="drop-want"),
]

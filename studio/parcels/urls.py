"""Which addresses does the parcels room answer?"""

from django.urls import path

from studio.parcels.views import people, rolls, shipments

app_name = "parcels"
urlpatterns = [
    path("supporters/", people.supporters, name="supporters"),
    path("supporters/find/", people.find, name="find"),
    path("supporters/new/", people.new_supporter, name="new-supporter"),
    path("supporters/address-fields/", people.address_fields, name="address-fields"),
    path("supporters/import/", rolls.import_roll, name="import"),
    path("supporters/import/<str:token>/", rolls.match_columns, name="import-columns"),
    path("supporters/import/<str:token>/changes/", rolls.import_changes, name="import-changes"),
    path("supporters/export.csv", rolls.export_roll, name="export"),
    path("supporters/paid/", people.paid, name="paid"),
    path("supporters/tiers/", people.tiers, name="tiers"),
    path("supporters/tiers/<int:tier_id>/", people.tiers, name="tier"),
    path("supporters/turns/", people.turns, name="turns"),
    path("supporters/<int:supporter_id>/", people.supporter, name="supporter"),
    path("supporters/<int:supporter_id>/edit/", people.edit_supporter, name="edit-supporter"),
    path("supporters/<int:supporter_id>/erase/", people.erase, name="erase"),
    path("supporters/<int:supporter_id>/pause/", people.pause, name="pause"),
    path("supporters/<int:supporter_id>/go-on/", people.go_on, name="go-on"),
    path("supporters/<int:supporter_id>/months/", people.months, name="months"),
    path("parcels/", shipments.parcels, name="parcels"),
    path("parcels/new/", shipments.set_shipment, name="new-shipment"),
    path("parcels/wants/<int:want_id>/drop/", shipments.drop_want, name="drop-want"),
    path("parcels/<int:shipment_id>/", shipments.shipment, name="shipment"),
    path("parcels/<int:shipment_id>/edit/", shipments.set_shipment, name="edit-shipment"),
    path("parcels/<int:shipment_id>/wants/", shipments.want, name="want"),
    path("parcels/<int:shipment_id>/pick/", shipments.pick, name="pick"),
    path("parcels/<int:shipment_id>/skip/", shipments.skip, name="skip"),
    path("parcels/<int:shipment_id>/mark/", shipments.mark, name="mark"),
    path("parcels/<int:shipment_id>/slips.pdf", shipments.slips, name="slips"),
    path("parcels/<int:shipment_id>/packers.pdf", shipments.packers_list, name="packers"),
    path("parcels/one/<int:parcel_id>/", shipments.parcel, name="parcel"),
    path("parcels/one/<int:parcel_id>/choose/", shipments.choose, name="choose"),
    path("parcels/one/<int:parcel_id>/note/", shipments.note, name="note"),
]

"""Where are the boards, the pieces and the catalogue?"""

from django.urls import path

from studio.wares import views

app_name = "wares"

urlpatterns = [
    path("boards/", views.boards, name="boards"),
    path("boards/throw/", views.throw, name="throw"),
    path("boards/count-in/", views.count_in, name="count_in"),
    path("boards/count-in/<slug:stage>/", views.count_in, name="count_in_as"),
    path("boards/<int:board_id>/", views.board, name="board"),
    path("boards/<int:board_id>/dry/", views.dry, name="dry"),
    path("boards/<int:board_id>/glaze/", views.glaze, name="glaze"),
    path("boards/<int:board_id>/grade/", views.grade, name="grade"),
    path("boards/<int:board_id>/lose/", views.lose, name="lose"),
    path("boards/<int:board_id>/split/", views.split, name="split"),
    path("boards/<int:board_id>/merge/", views.merge, name="merge"),
    path("boards/<int:board_id>/place/", views.place, name="place"),
    path("pieces/", views.pieces, name="pieces"),
    path("pieces/no/<int:number>/", views.numbered, name="numbered"),
    path("pieces/<int:piece_id>/", views.piece, name="piece"),
    path("pieces/<int:piece_id>/photo/", views.photo, name="photo"),
    path("pieces/<int:piece_id>/part/", views.part, name="part"),
    path("pieces/<int:piece_id>/promise/", views.promise, name="promise"),
    path("pieces/<int:piece_id>/release/", views.release, name="release"),
    path("pieces/<int:piece_id>/fault/", views.fault, name="fault"),
    path("lines/<int:line_id>/", views.line, name="line"),
    path("lines/<int:line_id>/lab/", views.lab_result, name="lab_result"),
    path("lines/<int:line_id>/<slug:standing>/", views.line_standing, name="line_standing"),
    path("lines/proof/", views.proof_rule, name="proof_rule"),
    path("glazes/<int:glaze_id>/bucket/", views.bucket, name="bucket"),
    path("catalogue/", views.catalogue, name="catalogue"),
    *[
        route
        for word, name in (
            ("forms", "forms"),
            ("clay-lots", "clay_lots"),
            ("glazes", "glazes"),
            ("coats", "coats"),
            ("lines", "lines"),
        )
        for route in (
            path(f"catalogue/{word}/", views.entries, {"shelf": name}, name=name),
            path(f"catalogue/{word}/add/", views.entry, {"shelf": name}, name=f"{name}_add"),
            path(
                f"catalogue/{word}/<int:entry_id>/",
                views.entry,
                {"shelf": name},
                name=f"{name}_edit",
            ),
        )
    ],
]

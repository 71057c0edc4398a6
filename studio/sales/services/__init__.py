"""How are sale days set, pieces listed, claimed and sold, and how is each undone?

Laws:

1. A piece is sold once. The update that parts it asks for the stage and count of moves it was
   read with, so of two people at the same moment one sells and the other is told.
2. A listing stays when its piece is sold: it is the record of the price. It goes when the piece
   is taken off the list.
3. What a change was before is kept in it, so that it can be undone while nothing stands on it.
"""

from studio.sales.services.days import change_sale_day, drop_want, make_sale_day, set_want
from studio.sales.services.pieces import claim, list_for_sale, release, sell, take_back
from studio.sales.services.undo import undo

__all__ = [
    "change_sale_day",
    "claim",
    "drop_want",
    "list_for_sale",
    "make_sale_day",
    "release",
    "sell",
    "set_want",
    "take_back",
    "undo",
]

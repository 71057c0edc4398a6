"""Forms, clay lots, coats, boards, pieces and the moves between stages."""

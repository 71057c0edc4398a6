"""What a potter types in the wares room: steps of boards and pieces, and the catalogue."""

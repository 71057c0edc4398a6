"""Is there a place for a firing: is its kiln free, and does its supply carry it that day?"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field

from studio.craft.backplan_frame import Frame, Slot


@dataclass(kw_only=True, slots=True)
class Places:
    """Which kilns and supplies a calendar takes."""

    made: Frame
    busy: defaultdict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    heats: Counter[tuple[str, int]] = field(default_factory=Counter)
    circuit_of: dict[str, str]
    at_once: dict[str, int]

    def may(self, slot: Slot) -> bool:
        """Is there a place for a slot?"""
        if not self.busy[slot.kiln_key].isdisjoint(range(slot.start, slot.open)):
            return False
        if slot.kept:
            return True
        circuit = self.circuit_of[slot.kiln_key], slot.start
        taken = self.heats[circuit] + self.made.heating.get(circuit, 0)
        return taken < self.at_once[circuit[0]]

    def take(self, slot: Slot, sign: int = 1) -> None:
        """Write a slot in, or (-1) out."""
        days = range(slot.start, slot.open)
        if sign > 0:
            self.busy[slot.kiln_key].update(days)
        else:
            self.busy[slot.kiln_key].difference_update(days)
        if not slot.kept:
            self.heats[self.circuit_of[slot.kiln_key], slot.start] += sign


def places_of(made: Frame) -> Places:
    """A calendar in which nothing stands but what is pinned (slots are never in its way)."""
    return Places(
        made=made,
        circuit_of={kiln.key: kiln.circuit_key for kiln in made.problem.kilns},
        at_once={circuit.key: circuit.at_once for circuit in made.problem.circuits},
    )

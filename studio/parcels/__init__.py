"""Tiers, supporters, fair turns, monthly shipments and packing slips."""

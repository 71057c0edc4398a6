"""Kilns, schedules, firings, loads and what came out."""

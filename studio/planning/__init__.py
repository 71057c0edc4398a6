"""Dated needs to a plan, a plan to planned firings and a throwing list."""

"""Craft values made visible: geometry for pages, vector PDF for paper, photographs kept safely."""

"""Pure computation: no Django, no clock, no database."""

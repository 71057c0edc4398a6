"""Run a Wareboard command: ``python manage.py demo``, ``serve``, ``backplan`` and others."""

import os
import sys
from pathlib import Path

DEMO = Path(__file__).resolve().parent / "data" / "demo"


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    if sys.argv[1:2] == ["demo"]:
        # The demo plays in a folder of its own, never in the studio's.
        os.environ.setdefault("WAREBOARD_DATA", str(DEMO))
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as problem:
        sys.exit(str(problem))


if __name__ == "__main__":
    main()

"""How do the people of the studio reach it from a browser?

By default from this computer alone. A phone in the workshop comes over the network, and what it
sends can be read there unless a certificate stands in front; so that is asked for, or has to be
accepted by name.
"""

import socket
from argparse import ArgumentParser
from typing import Any

import waitress
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.core.wsgi import get_wsgi_application
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from studio.home.tables import known_migrations, of_a_newer_one

PLAIN_HTTP = (
    "Plain http: everyone on this network can read what is sent, passwords and supporters' "
    "addresses too, and could change it on its way."
)
ASK = (
    f"{PLAIN_HTTP}\n"
    "Either put a proxy with a certificate in front (Caddy or nginx on this computer, sending on "
    "to 127.0.0.1 with X-Forwarded-Proto; start with WAREBOARD_HTTPS=1 and without --phone),\n"
    "or, on a network only the studio uses, start with --phone --accept-plain-http."
)


class Command(BaseCommand):
    """Serve the studio with waitress until Ctrl-C."""

    help = "Serve the studio on this computer; with --phone also to the studio's network."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="the port (default 8000)")
        parser.add_argument(
            "--phone", action="store_true", help="let other devices of the network in"
        )
        parser.add_argument(
            "--accept-plain-http",
            action="store_true",
            help="with --phone: I know that everyone on this network can read what is sent",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        port: int = options["port"]
        phone: bool = options["phone"]
        if not 1 <= port <= 65535:
            raise CommandError(f"--port must be between 1 and 65535, not {port}.")
        if phone and not options["accept_plain_http"]:
            raise CommandError(ASK)
        if options["accept_plain_http"] and not phone:
            raise CommandError("--accept-plain-http only means something with --phone.")
        self._refuse_old_tables()
        if phone:
            own = own_addresses()
            settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *own]
            self.stdout.write(PLAIN_HTTP)
            for name in own:
                self.stdout.write(f"On a phone: http://{name}:{port}/")
        try:
            server = waitress.create_server(
                get_wsgi_application(), **serving(port=port, phone=phone)
            )
        except OSError as problem:
            raise CommandError(
                f"Port {port} cannot be used ({problem.strerror}). Try --port {port + 1}."
            ) from problem
        self.stdout.write(f"On this computer: http://127.0.0.1:{port}/  (Ctrl-C ends it)")
        self.stdout.flush()
        try:
            server.run()
        finally:
            server.close()

    def _refuse_old_tables(self) -> None:
        try:
            executor = MigrationExecutor(connection)
        except DatabaseError as problem:
            raise CommandError(
                f"The database cannot be read ({problem}). Is it the right one, "
                f"{connection.settings_dict['NAME']}? A copy is put back with: "
                "python manage.py restore FILE --server-is-stopped"
            ) from problem
        applied, known = executor.loader.applied_migrations, known_migrations()
        if said := of_a_newer_one(applied=applied, known=known):
            raise CommandError(f"This database cannot be served here. {said}")
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError(
                "The database is not up to date. Run: python manage.py migrate "
                "(a studio of your own), or python manage.py demo (the invented one)."
            )
        connection.close()


def serving(*, port: int, phone: bool) -> dict[str, Any]:
    """Answer waitress's settings.

    Phones that walk out of the Wi-Fi hold half-sent forms: many connections and a short patience
    keep the pages of the others quick. Only a proxy on this computer may say who is behind it.
    """
    out: dict[str, Any] = {
        "listen": f"{'0.0.0.0' if phone else '127.0.0.1'}:{port}",
        "threads": 8,
        "connection_limit": 1000,
        "channel_timeout": 20,
        "max_request_body_size": settings.UPLOAD_MAX_BYTES,
        "ident": "wareboard",
    }
    if settings.HTTPS:
        out["trusted_proxy"] = "127.0.0.1"
        out["trusted_proxy_headers"] = {"x-forwarded-for", "x-forwarded-proto"}
        out["clear_untrusted_proxy_headers"] = True
    return out


def own_addresses() -> list[str]:
    """Answer the names this computer has on its network, for the phone's address bar."""
    name = socket.gethostname()
    found = [f"{name}.local", name]
    try:
        for entry in socket.getaddrinfo(name, None, socket.AF_INET):
            found.append(str(entry[4][0]))
    except OSError:
        pass
    # Ask which address the way out of the house would use; nothing is sent for that.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            found.append(probe.getsockname()[0])
        except OSError:
            pass
    return list(dict.fromkeys(one for one in found if not one.startswith("127.")))

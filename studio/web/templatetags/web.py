"""How is a number shown to this studio, and how does a form carry its key?"""

import datetime
from typing import Any

from django import template
from django.forms import BoundField
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from studio.craft.money import show_money
from studio.craft.quantities import show_length, show_temperature
from studio.web.idempotency import FIELD, new_key
from studio.web.selectors import length_unit, temperature_unit, the_studio

register = template.Library()


@register.simple_tag(takes_context=True)
def form_key(context: template.Context) -> SafeString:
    """Write the hidden field with a form's key.

    A refused form is shown again with the key it was sent with, because that key did not act.
    """
    request = context.get("request")
    posted = request.POST.get(FIELD, "") if request is not None else ""
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, posted or new_key())


@register.filter
def temp(celsius: float | str | None) -> str:
    """Show a temperature [°C] in the studio's unit; nothing when there is none."""
    if celsius in (None, ""):
        return ""
    return show_temperature(float(celsius), unit=temperature_unit())


@register.filter
def mm(millimetres: float | str | None) -> str:
    """Show a length [mm] in the studio's unit; nothing when there is none."""
    if millimetres in (None, ""):
        return ""
    return show_length(float(millimetres), unit=length_unit())


@register.filter
def money(pence: int | str | None) -> str:
    """Show an amount [pence, or the smallest coin of the currency]; nothing when there is none."""
    if pence in (None, ""):
        return ""
    return show_money(int(pence), currency=the_studio().currency)


@register.filter
def plural(count: int, words: str = "piece,pieces") -> str:
    """Show a count with its word: ``{{ 24|plural:"mug,mugs" }}`` is "24 mugs"."""
    one, many = words.split(",")
    return f"{count} {one if count == 1 else many}"


@register.filter
def shortdate(day: datetime.date | datetime.datetime | None) -> str:
    """Show a date as people write it on a board: Mon 3 Nov, with the year when it is another."""
    if not day:
        return ""
    if isinstance(day, datetime.datetime):
        day = timezone.localtime(day).date() if timezone.is_aware(day) else day.date()
    year = "" if day.year == timezone.localdate().year else f" {day.year}"
    return f"{day:%a} {day.day} {day:%b}{year}"


@register.filter
def thumb(name: str) -> str:
    """Answer the file name of a photo's small copy: ``{% url "photo" photo.file|thumb %}``."""
    return f"{name.removesuffix('.jpg')}.webp"


@register.filter
def undo_id(extra_tags: str | None) -> str:
    """Answer the number of the change a message can undo, from its tags; else nothing."""
    tag = extra_tags or ""
    return tag.removeprefix("undo-") if tag.startswith("undo-") else ""


@register.filter
def kind(field: BoundField) -> str:
    """Answer what sort of control a field has: check, picks, file, or one line."""
    widget: Any = field.field.widget
    return {"checkbox": "check", "radio": "picks", "file": "file"}.get(
        getattr(widget, "input_type", ""), "line"
    )


@register.simple_tag
def control(field: BoundField) -> SafeString:
    """Write a field's control, tied to its help and its error for people who listen to the page."""
    ids = []
    if field.help_text:
        ids.append(f"{field.id_for_label}-help")
    if field.errors:
        ids.append(f"{field.id_for_label}-error")
    attributes: dict[str, Any] = {}
    if ids:
        attributes["aria-describedby"] = " ".join(ids)
    if field.errors:
        attributes["aria-invalid"] = "true"
    return field.as_widget(attrs=attributes)

"""What does the post ask for: boxes, limits, the words of customs; and who looked at an address?"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from studio.craft.customs import BODIES, KINDS
from studio.parcels.models.people import Supporter
from studio.parcels.models.shipments import Parcel
from studio.wares.models import Form

LIMIT_SOURCE = (
    "Universal Postal Union: CN 22 on small packets up to 300 SDR, otherwise and on postal parcels"
    " CN 23; 2 kg is the limit of a small packet, as national posts print it"
)


def limit_looked_at() -> date:
    """When that source was looked at."""
    return date(2026, 11, 25)


class PostSettings(models.Model):
    """The one row of what post and customs ask for. All of it moves: each can be changed."""

    home_code = models.CharField(
        max_length=2, default="GB", help_text="where parcels are posted and pots are made, ISO 3166"
    )
    without_codes = models.CharField(
        max_length=200, blank=True, help_text="countries abroad that need no customs form"
    )
    contact = models.CharField(
        max_length=120, blank=True, help_text="phone or e-mail; CN 23 asks for it"
    )
    item_kind = models.CharField(max_length=9, choices=list(KINDS.items()), default="goods")
    parcel_post = models.BooleanField(
        default=False, help_text="sent as postal parcels, not as small packets"
    )
    limit_sdr = models.DecimalField(max_digits=7, decimal_places=2, default=Decimal(300))
    limit_g = models.PositiveIntegerField(default=2000)
    limit_source = models.CharField(max_length=200, default=LIMIT_SOURCE)
    limit_date = models.DateField(default=limit_looked_at)
    sdr_rate = models.DecimalField(
        max_digits=10, decimal_places=4, null=True, blank=True, help_text="what one SDR is worth"
    )
    sdr_source = models.CharField(max_length=200, blank=True)
    sdr_date = models.DateField(null=True, blank=True)
    padding_mm = models.PositiveSmallIntegerField(default=50, help_text="on each side of a piece")
    divisor_cm3_per_kg = models.PositiveIntegerField(default=5000)
    confirmed_days = models.PositiveSmallIntegerField(
        default=21, help_text="how long before the post date a confirmation counts"
    )
    link_days = models.PositiveSmallIntegerField(default=14)
    overdue_days = models.PositiveSmallIntegerField(default=21)
    keep_days = models.PositiveSmallIntegerField(
        default=90, help_text="how long after posting the printed address is kept"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="post_settings_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="post_limits_real",
                condition=Q(limit_sdr__gt=0, limit_g__gte=1, divisor_cm3_per_kg__gte=1),
            ),
            models.CheckConstraint(
                name="post_rate_has_its_day",
                condition=Q(sdr_rate__isnull=True)
                | (Q(sdr_rate__gt=0) & Q(sdr_date__isnull=False) & ~Q(sdr_source="")),
            ),
            models.CheckConstraint(name="post_limit_has_its_source", condition=~Q(limit_source="")),
            models.CheckConstraint(
                name="post_days_from_one",
                condition=Q(
                    confirmed_days__gte=1, link_days__gte=1, overdue_days__gte=1, keep_days__gte=1
                ),
            ),
            models.CheckConstraint(
                name="post_item_kind_known", condition=Q(item_kind__in=list(KINDS))
            ),
        ]

    def __str__(self) -> str:
        return f"posted from {self.home_code}"


class BoxType(models.Model):
    """A box that the studio packs in. Sizes are inside; the weight is with its usual fill."""

    name = models.CharField(max_length=40)
    length_mm = models.PositiveSmallIntegerField()
    width_mm = models.PositiveSmallIntegerField()
    height_mm = models.PositiveSmallIntegerField()
    wall_mm = models.PositiveSmallIntegerField(default=4)
    weight_g = models.PositiveIntegerField()
    takes = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="box_name_once"),
            models.CheckConstraint(name="box_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="box_sizes_real",
                condition=Q(length_mm__gte=1, width_mm__gte=1, height_mm__gte=1, weight_g__gte=1),
            ),
            models.CheckConstraint(
                name="box_takes_something", condition=Q(takes__isnull=True) | Q(takes__gte=1)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BodyKind(models.Model):
    """What customs call a body: porcelain or not decides the heading."""

    body = models.CharField(max_length=60)
    kind = models.CharField(max_length=11, choices=[(body, body) for body in BODIES])

    class Meta:
        ordering = ["body"]
        constraints = [
            models.UniqueConstraint(Lower("body"), name="body_kind_once"),
            models.CheckConstraint(name="body_kind_known", condition=Q(kind__in=BODIES)),
        ]

    def __str__(self) -> str:
        return f"{self.body}: {self.kind}"


class FormUse(models.Model):
    """What a form is for, as a customs officer reads it, and whether it is an ornament."""

    form = models.OneToOneField(Form, on_delete=models.CASCADE, related_name="use")
    purpose = models.CharField(max_length=60, help_text="for drinks, for food, for flowers")
    is_ornament = models.BooleanField(default=False)

    class Meta:
        constraints = [models.CheckConstraint(name="form_use_said", condition=~Q(purpose=""))]

    def __str__(self) -> str:
        return f"{self.form} {self.purpose}"


class AddressLook(models.Model):
    """Somebody saw an address: who, whose, when and where.

    Whose it was stands here in words too, so that the look outlives a taking-in that is undone.
    """

    class Page(models.TextChoices):
        PERSON = "person", "their page"
        EDIT = "edit", "their form"
        PARCEL = "parcel", "the parcel's page"
        SLIPS = "slips", "packing slips"
        LABELS = "labels", "address labels"
        CUSTOMS = "customs", "customs sheet"
        EXPORT = "export", "export file"
        IMPORT = "import", "import, what will change"

    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    supporter = models.ForeignKey(
        Supporter, on_delete=models.SET_NULL, null=True, blank=True, related_name="looks"
    )
    number = models.PositiveIntegerField(help_text="the supporter's, as it was")
    name = models.CharField(max_length=120, help_text="the supporter's, as it was")
    parcel = models.ForeignKey(
        Parcel, on_delete=models.SET_NULL, null=True, blank=True, related_name="looks"
    )
    page = models.CharField(max_length=7, choices=Page)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["supporter", "at"])]
        constraints = [
            models.CheckConstraint(
                name="look_page_known",
                condition=Q(
                    page__in=[
                        "person",
                        "edit",
                        "parcel",
                        "slips",
                        "labels",
                        "customs",
                        "export",
                        "import",
                    ]
                ),
            ),
            models.CheckConstraint(name="look_says_whose", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return f"{self.by} saw {self.whose} on {self.get_page_display()}"

    @property
    def whose(self) -> str:
        """Whose address it was: by the name of today, or by the last one that was known."""
        return self.supporter.name if self.supporter else self.name

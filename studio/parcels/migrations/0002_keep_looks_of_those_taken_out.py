"""Let a look at an address outlive the supporter, and say in words whose it was."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def say_whose(apps: Any, schema_editor: Any) -> None:
    """Write down whose address each look before this was at."""
    looks = apps.get_model("parcels", "AddressLook").objects
    person = apps.get_model("parcels", "Supporter").objects.filter(id=OuterRef("supporter_id"))
    looks.update(
        name=Subquery(person.values("name")[:1]), number=Subquery(person.values("number")[:1])
    )


class Migration(migrations.Migration):
    dependencies = [("parcels", "0001_initial")]

    operations = [
        migrations.RemoveConstraint(model_name="addresslook", name="look_page_known"),
        migrations.AddField(
            model_name="addresslook",
            name="name",
            field=models.CharField(
                default="", help_text="the supporter's, as it was", max_length=120
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="addresslook",
            name="number",
            field=models.PositiveIntegerField(default=0, help_text="the supporter's, as it was"),
            preserve_default=False,
        ),
        migrations.RunPython(say_whose, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="addresslook",
            name="page",
            field=models.CharField(
                choices=[
                    ("person", "their page"),
                    ("edit", "their form"),
                    ("parcel", "the parcel's page"),
                    ("slips", "packing slips"),
                    ("labels", "address labels"),
                    ("customs", "customs sheet"),
                    ("export", "export file"),
                    ("import", "import, what will change"),
                ],
                max_length=7,
            ),
        ),
        migrations.AlterField(
            model_name="addresslook",
            name="supporter",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="looks",
                to="parcels.supporter",
            ),
        ),
        migrations.AddConstraint(
            model_name="addresslook",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "page__in",
                        [
                            "person",
                            "edit",
                            "parcel",
                            "slips",
                            "labels",
                            "customs",
                            "export",
                            "import",
                        ],
                    )
                ),
                name="look_page_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="addresslook",
            constraint=models.CheckConstraint(
                condition=models.Q(("name", ""), _negated=True), name="look_says_whose"
            ),
        ),
    ]

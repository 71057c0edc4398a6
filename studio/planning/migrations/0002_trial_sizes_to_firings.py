from typing import Any

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def hand_over(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Give the trial sizes that a studio stated to the kilns' own rule."""
    rule: Any = apps.get_model("planning", "PlanRule").objects.filter(pk=1).first()
    if rule is not None:
        apps.get_model("firings", "TrialRule").objects.get_or_create(
            pk=1, defaults={"least_pieces": rule.trial_least, "most_pieces": rule.trial_most}
        )


class Migration(migrations.Migration):
    dependencies = [
        ("firings", "0005_trial_rule"),
        ("planning", "0001_initial"),
    ]

    operations = [
        migrations.RunPython(hand_over, migrations.RunPython.noop),
    ]

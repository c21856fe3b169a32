"""Names leave the record for a table of their own; the column in it stays, empty from now on."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("intake", "0018_jobs")]

    operations = [
        # The same column under another name: rebuilding the table would take its triggers along.
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RemoveField(model_name="recordentry", name="actor_name"),
                migrations.AddField(
                    model_name="recordentry",
                    name="name_then",
                    field=models.CharField(blank=True, db_column="actor_name", max_length=200),
                ),
            ]
        ),
        migrations.AddField(
            model_name="user",
            name="forgotten_at",
            field=models.DateTimeField(blank=True, null=True, verbose_name="data removed"),
        ),
        migrations.CreateModel(
            name="PersonalText",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("mark", models.CharField(max_length=40, unique=True)),
                ("text", models.CharField(max_length=254)),
                ("salt", models.CharField(max_length=32)),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="personal_texts",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
    ]

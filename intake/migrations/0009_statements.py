"""Statements, with triggers that refuse to change or delete one, whoever asks."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

TABLE = "intake_statement"
SENTENCE = "A statement is never changed."

SQLITE = [
    f"""CREATE TRIGGER statement_no_{verb.lower()} BEFORE {verb} ON {TABLE}
        BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END"""
    for verb in ("UPDATE", "DELETE")
]
POSTGRESQL = [
    f"""CREATE FUNCTION statement_refuse() RETURNS trigger AS $$
        BEGIN RAISE EXCEPTION '{SENTENCE}'; END $$ LANGUAGE plpgsql""",
    f"""CREATE TRIGGER statement_no_change BEFORE UPDATE OR DELETE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION statement_refuse()""",
    f"""CREATE TRIGGER statement_no_truncate BEFORE TRUNCATE ON {TABLE}
        FOR EACH STATEMENT EXECUTE FUNCTION statement_refuse()""",
]
UNDO = {
    "sqlite": ["DROP TRIGGER statement_no_update", "DROP TRIGGER statement_no_delete"],
    "postgresql": [
        f"DROP TRIGGER statement_no_truncate ON {TABLE}",
        f"DROP TRIGGER statement_no_change ON {TABLE}",
        "DROP FUNCTION statement_refuse()",
    ],
}


def guard(apps, schema_editor):
    for statement in {"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


def unguard(apps, schema_editor):
    for statement in UNDO[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [
        ("intake", "0008_dates"),
    ]

    operations = [
        migrations.CreateModel(
            name="Statement",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=20, unique=True, verbose_name="number")),
                ("sequence", models.PositiveIntegerField()),
                ("content", models.JSONField()),
                ("digest", models.CharField(max_length=64)),
                ("issued_name", models.CharField(max_length=200, verbose_name="released by")),
                ("issued_at", models.DateTimeField(verbose_name="released")),
                (
                    "reason",
                    models.TextField(
                        blank=True, max_length=1000, verbose_name="why it replaces the one before"
                    ),
                ),
                (
                    "consignment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="statements",
                        to="intake.consignment",
                    ),
                ),
                (
                    "issued_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "replaces",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replaced_by",
                        to="intake.statement",
                    ),
                ),
            ],
            options={
                "ordering": ["-issued_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("consignment", "sequence"), name="statement_sequence_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("replaces__isnull", True), ("sequence", 1)),
                            models.Q(
                                ("replaces__isnull", False),
                                ("sequence__gt", 1),
                                models.Q(("reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="statement_correction_says_why",
                    ),
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]

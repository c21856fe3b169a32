"""Triggers that refuse to change or delete an entry of the record, whoever asks."""

from django.db import migrations

TABLE = "intake_recordentry"
SENTENCE = "The record is append-only."

SQLITE = [
    f"""CREATE TRIGGER record_no_{verb.lower()} BEFORE {verb} ON {TABLE}
        BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END"""
    for verb in ("UPDATE", "DELETE")
]
POSTGRESQL = [
    f"""CREATE FUNCTION record_refuse() RETURNS trigger AS $$
        BEGIN RAISE EXCEPTION '{SENTENCE}'; END $$ LANGUAGE plpgsql""",
    f"""CREATE TRIGGER record_no_change BEFORE UPDATE OR DELETE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION record_refuse()""",
    f"""CREATE TRIGGER record_no_truncate BEFORE TRUNCATE ON {TABLE}
        FOR EACH STATEMENT EXECUTE FUNCTION record_refuse()""",
]
UNDO = {
    "sqlite": ["DROP TRIGGER record_no_update", "DROP TRIGGER record_no_delete"],
    "postgresql": [
        f"DROP TRIGGER record_no_truncate ON {TABLE}",
        f"DROP TRIGGER record_no_change ON {TABLE}",
        "DROP FUNCTION record_refuse()",
    ],
}


def guard(apps, schema_editor):
    for statement in {"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


def unguard(apps, schema_editor):
    for statement in UNDO[schema_editor.connection.vendor]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("intake", "0001_initial")]
    operations = [migrations.RunPython(guard, unguard)]

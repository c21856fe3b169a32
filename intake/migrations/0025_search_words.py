from collections import defaultdict

import django.db.models.deletion
from django.db import migrations, models

from intake.searchwords import beginnings, beginnings_of_number, word_of_group

#: Consignments whose words are held in memory at once.
AT_ONCE = 500


def find_what_stands(apps, editor):
    """Keep the words of the consignments that stand already."""
    alias = editor.connection.alias
    kinds = {name: apps.get_model("intake", name) for name in ("Consignment", "Sample", "SearchWord")}
    rows = {name: kind.objects.using(alias).order_by() for name, kind in kinds.items()}
    last = 0
    while True:
        heads = list(
            rows["Consignment"]
            .filter(pk__gt=last)
            .order_by("pk")
            .values_list("pk", "title", "number", "group_id")[:AT_ONCE]
        )
        if not heads:
            return
        first, last = heads[0][0], heads[-1][0]
        texts = defaultdict(set)
        samples = rows["Sample"].filter(consignment_id__gte=first, consignment_id__lte=last)
        for key, own_id, site in samples.values_list("consignment_id", "own_id", "site"):
            texts[key] |= {own_id, site}
        rows["SearchWord"].bulk_create(
            kinds["SearchWord"](word=word, consignment_id=key)
            for key, title, number, group in heads
            for word in sorted(
                beginnings({*texts[key], title}) | beginnings_of_number(number) | {word_of_group(group)}
            )
        )


class Migration(migrations.Migration):
    dependencies = [
        ("intake", "0024_language_of_a_person"),
    ]

    operations = [
        migrations.CreateModel(
            name="SearchWord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("word", models.CharField(max_length=16)),
                (
                    "consignment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="search_words",
                        to="intake.consignment",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("word", "consignment"), name="search_word_once")
                ],
            },
        ),
        migrations.RunPython(find_what_stands, migrations.RunPython.noop, elidable=True),
    ]

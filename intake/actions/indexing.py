"""Keeping the words by which consignments are found. Called by the actions that change what they say."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from intake.actions.storing import in_parts, insert_rows
from intake.models import Consignment, Sample, SearchWord
from intake.searchwords import beginnings, beginnings_of_number, word_of_group

#: Consignments whose words are held in memory at once.
AT_ONCE = 200


def words_of(keys: Iterable[int]) -> dict[int, set[str]]:
    """By what each consignment is found: number, title, group, and its samples' ids and sites."""
    wanted = list(keys)
    texts: dict[int, set[str]] = defaultdict(set)
    samples = Sample.objects.filter(consignment__in=wanted).order_by()
    for consignment, own_id, site in samples.values_list("consignment", "own_id", "site"):
        texts[consignment] |= {own_id, site}
    heads = Consignment.objects.filter(pk__in=wanted).order_by()
    return {
        key: beginnings({*texts[key], title}) | beginnings_of_number(number) | {word_of_group(group)}
        for key, title, number, group in heads.values_list("pk", "title", "number", "group")
    }


def index_consignments(keys: Iterable[int]) -> None:
    """Keep the words of consignments ``keys`` as they stand now: what is new comes, what is gone goes."""
    for part in in_parts(list(keys), AT_ONCE):
        standing: dict[int, dict[str, int]] = defaultdict(dict)
        rows = SearchWord.objects.filter(consignment__in=part)
        for key, word, row in rows.values_list("consignment", "word", "pk"):
            standing[key][word] = row
        wanted = words_of(part)
        gone = [row for key in part for word, row in standing[key].items() if word not in wanted.get(key, ())]
        for some in in_parts(gone):
            SearchWord.objects.filter(pk__in=some).delete()
        fresh = [(word, key) for key in part for word in sorted(wanted.get(key, set()) - set(standing[key]))]
        insert_rows(SearchWord, ("word", "consignment_id"), fresh)

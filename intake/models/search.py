"""By what consignments are found."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from intake.searchwords import LONGEST


class SearchWord(models.Model):
    """A beginning of a word that ``consignment`` is found by, or its group's mark.

    Kept by ``intake.actions.indexing``; ``intake.searchwords`` says which there are.
    """

    word = models.CharField(max_length=LONGEST)
    consignment = models.ForeignKey("Consignment", on_delete=models.CASCADE, related_name="search_words")

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["word", "consignment"], name="search_word_once"),
        ]

    def __str__(self) -> str:
        return self.word

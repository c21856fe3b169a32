"""The words of other languages: gathering what is to be translated, and holding the catalogues to it."""

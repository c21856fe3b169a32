"""Mutation testing of `intake/rules`: change one thing at a time and see whether a test notices."""

"""Everything the bench stores; empty until runs exist."""

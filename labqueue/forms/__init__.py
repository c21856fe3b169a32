"""What the bench asks people."""

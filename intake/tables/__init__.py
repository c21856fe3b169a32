"""Tables of intake's lists."""

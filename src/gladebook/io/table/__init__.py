"""Tables as text: tracks in columns, boundaries as well-known text."""

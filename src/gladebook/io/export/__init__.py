"""What a property holds, written for other programs: one module a format."""

"""Whether a gap between passes is real or the receiver's: go look, or cannot tell."""

"""Coverage: what one application treated, missed, covered twice, sprayed outside, or cannot tell."""

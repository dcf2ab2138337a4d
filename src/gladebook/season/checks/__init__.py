"""The checks before a spray, each alone: a case in, findings out."""

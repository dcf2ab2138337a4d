"""What may be sprayed here and today: choosing among ingredients, and the checks before a spray."""

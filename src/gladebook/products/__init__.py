"""What is sprayed, on what, against what: labels as the user has them, ingredients, forages, weeds."""

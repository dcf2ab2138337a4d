"""The passes of a plot as they lie side by side: their neighbours, how many there are, where one is missing."""

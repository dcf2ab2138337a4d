"""The weather at the plot, as it was measured or forecast."""

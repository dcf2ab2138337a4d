"""What is true of any shape: planes, areas, crossings, swept ground. No word of plots or sprayers."""

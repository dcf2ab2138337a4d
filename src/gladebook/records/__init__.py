"""What a property keeps from one day to the next: plots and their history, applications, strips, sprayers, mixes."""

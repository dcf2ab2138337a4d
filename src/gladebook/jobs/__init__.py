"""One function for each question that the manager asks. The faces parse, call one, and show."""

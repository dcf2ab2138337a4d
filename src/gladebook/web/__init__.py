"""The page: a server for one property, on this machine alone; it parses, calls a job, and shows."""

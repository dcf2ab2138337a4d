"""Files in and out. One door in (`door`), one way out (`write`)."""

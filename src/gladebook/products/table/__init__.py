"""What publications say of active ingredients: each cell with its source, the rest left empty."""

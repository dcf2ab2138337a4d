"""Files of geographic information systems: boundaries."""

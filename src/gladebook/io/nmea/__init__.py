"""NMEA 0183 logs of receivers."""

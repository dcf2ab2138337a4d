"""The property file: one GeoPackage with plots, applications and skips, safe against crashes, with undo."""

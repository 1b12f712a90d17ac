"""Reports: one module of tables holds every number; the others lay it out."""

"""Files at the edge: the tour file, settings, limits, resources shipped with the package."""

"""HTTP: the application, the sync interface and the pages."""

"""The brief of one lot, as a page and as a PDF."""

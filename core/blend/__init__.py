"""Blends: recipes between recipes, planned as cells, mixed wet or dry."""

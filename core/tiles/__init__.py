"""Test tiles: their codes, runs, results and what they prove."""

"""The chemistry and the files of a glaze workbench, without any window."""

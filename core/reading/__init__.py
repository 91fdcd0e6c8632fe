"""What can be said of a glaze in its firing on its body: one question a file, with reasons."""

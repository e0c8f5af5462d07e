"""One file per format; read_take(path) chooses."""

"""One module a command; each is loaded when it is asked for, so that help and small answers come at once."""

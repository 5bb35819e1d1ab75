"""In: the arguments of a command. Out: its input, files and printed lines; `cli` at the root defines the commands."""

"""In: the words of a command. Out: what it reads, writes and prints; `cli` at the root has the commands."""

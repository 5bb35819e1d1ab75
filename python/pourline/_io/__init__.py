"""In: files, streams and tables of any library. Out: logs and rows; files that are written completely or not at all."""

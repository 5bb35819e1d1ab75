"""In: files, streams and tables of any library. Out: logs and rows; and files that are written as a whole."""

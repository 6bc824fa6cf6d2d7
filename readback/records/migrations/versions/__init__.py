"""One file a change of the tables; files that were released are never edited."""

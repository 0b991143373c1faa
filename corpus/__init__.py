"""The library folder, tunes as they are played, key finding, and the DuckDB index made from them."""

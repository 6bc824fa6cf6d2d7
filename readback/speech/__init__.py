"""Speech: audio in, transmissions found and heard."""

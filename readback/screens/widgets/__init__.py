"""What several screens show."""

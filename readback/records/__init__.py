"""Training records: what was said, the verdicts, corrections by people, reports and exports."""

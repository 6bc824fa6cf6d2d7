"""Programs that make the ear: texts, speech, training, export, report (`docs/ear.md`)."""

"""The commands, one file each: they call the parts and show what comes back."""

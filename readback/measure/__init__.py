"""How well this set-up hears and judges: error rates on labelled recordings."""

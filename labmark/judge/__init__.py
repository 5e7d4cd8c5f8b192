"""The pure middle: what one stage hands to the next, marks and words. Only the pipeline knows more stages."""

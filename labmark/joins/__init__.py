"""What one stage hands to the next: the only code beside the pipeline that knows more than one stage."""

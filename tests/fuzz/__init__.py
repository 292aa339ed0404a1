"""Mutated scores and rule files: nothing but a refusal in words or a valid score may come back."""

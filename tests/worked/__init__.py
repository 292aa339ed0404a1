"""Answers from outside: small cases worked by hand, each with the source of what is expected."""

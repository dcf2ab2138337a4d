"""Spraying arithmetic: the gallons check, the mix by loads, and the cautions that go with them."""

"""Two tracks compared field by field."""

from dataclasses import fields

import numpy as np

from gladebook.passes.track import Track

__all__ = ["difference"]


def difference(one: Track, other: Track) -> list[str]:
    """The fields in which two tracks differ; numbers must be the same to the last bit, and of one type."""
    differ = []
    for name in (field.name for field in fields(Track)):
        a, b = getattr(one, name), getattr(other, name)
        if isinstance(a, np.ndarray) and isinstance(b, np.ndarray):
            same = a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes()
        else:
            same = a == b
        if not same:
            differ.append(f"{name}: {a} and {b}")
    return differ

"""GDAL as another program that edits a property file: ``python -m tests.io.property.gdal_edit FILE WHAT``.

pyogrio's own functions cannot change a feature, so its GDAL is called by its C interface.
"""

import ctypes
import sys
from pathlib import Path

import pyogrio

_VECTOR_UPDATE = 0x04 | 0x01


def _gdal() -> ctypes.CDLL:
    folder = Path(pyogrio.__file__).parent
    for place in (folder.parent / "pyogrio.libs", folder / ".dylibs", folder):
        for found in sorted(place.glob("*gdal*.so*")) + sorted(place.glob("*gdal*.dylib")):
            return ctypes.CDLL(str(found))
    sys.exit("no GDAL beside pyogrio")


def _declare(gdal: ctypes.CDLL) -> None:
    pointer, text, number = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int
    for name, gives, takes in (
        ("GDALOpenEx", pointer, [text, ctypes.c_uint, pointer, pointer, pointer]),
        ("GDALDatasetGetLayerByName", pointer, [pointer, text]),
        ("OGR_L_GetFeature", pointer, [pointer, ctypes.c_longlong]),
        ("OGR_L_GetLayerDefn", pointer, [pointer]),
        ("OGR_F_Create", pointer, [pointer]),
        ("OGR_F_GetFieldIndex", number, [pointer, text]),
        ("OGR_F_SetFieldString", None, [pointer, number, text]),
        ("OGR_F_SetGeometryDirectly", number, [pointer, pointer]),
        ("OGR_G_CreateFromWkt", number, [ctypes.POINTER(text), pointer, ctypes.POINTER(pointer)]),
        ("OGR_L_SetFeature", number, [pointer, pointer]),
        ("OGR_L_CreateFeature", number, [pointer, pointer]),
        ("OGR_L_DeleteFeature", number, [pointer, ctypes.c_longlong]),
        ("GDALClose", number, [pointer]),
    ):
        function = getattr(gdal, name)
        function.restype, function.argtypes = gives, takes


def main() -> None:
    path, what = sys.argv[1], sys.argv[2]
    gdal = _gdal()
    _declare(gdal)
    gdal.GDALAllRegister()
    data = gdal.GDALOpenEx(path.encode(), _VECTOR_UPDATE, None, None, None)
    layer = gdal.GDALDatasetGetLayerByName(data, b"plots")
    if what == "delete":
        done = gdal.OGR_L_DeleteFeature(layer, 1)
    else:
        create = what == "add"
        feature = gdal.OGR_F_Create(gdal.OGR_L_GetLayerDefn(layer)) if create else gdal.OGR_L_GetFeature(layer, 1)
        if create:
            gdal.OGR_F_SetFieldString(feature, gdal.OGR_F_GetFieldIndex(feature, b"name"), b"from a map program")
        shape, text = ctypes.c_void_p(), ctypes.c_char_p(sys.argv[3].encode())
        gdal.OGR_G_CreateFromWkt(ctypes.byref(text), None, ctypes.byref(shape))
        gdal.OGR_F_SetGeometryDirectly(feature, shape)
        done = (gdal.OGR_L_CreateFeature if create else gdal.OGR_L_SetFeature)(layer, feature)
    closed = gdal.GDALClose(data)
    sys.stdout.write(f"{done} {closed}\n")


if __name__ == "__main__":
    main()

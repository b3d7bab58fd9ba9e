"""Pictures for tests, written after their standards: PNG (ISO/IEC 15948), JPEG (ISO/IEC 10918-1), Exif (CIPA DC-008)."""
import base64
import struct
import zlib


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, text=b""):
    """Grey, of that size; `text` goes into a tEXt chunk."""
    rows = b"".join(b"\0" + bytes((x * 7 + y * 3) % 256 for x in range(width)) for y in range(height))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
            + (chunk(b"tEXt", b"Comment\0" + text) if text else b"") + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


# 1 x 1, grey, baseline: the smallest that decoders take
JPEG = base64.b64decode(
    "/9j/4AAQSkZJRgABAQEASABIAAD/2wBDAP//////////////////////////////////////////////////////////////////////////////////"
    "////wAALCAABAAEBAREA/8QAFAABAAAAAAAAAAAAAAAAAAAAA//EABQQAQAAAAAAAAAAAAAAAAAAAAD/2gAIAQEAAD8AN//Z")


def jpeg(where=b"", orientation=1):
    """The picture with an Exif segment that holds a text and says how it is turned."""
    exif = b"Exif\0\0MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, orientation, 0, 0) + where
    return JPEG[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + JPEG[2:]

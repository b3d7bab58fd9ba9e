/* Frames of pictures, walked. PNG: ISO/IEC 15948, 5.3 and 11.2.2; JPEG: ISO/IEC 10918-1, annex B;
 * WebP: RFC 9649, 2.3 to 2.7. Only the frame is looked at: a browser's decoder is asked for the rest. */
#include "book/media.h"
#include <string.h>

#define PIXELS_MOST 120e6 /* of a picture to show: larger ones would fill a tablet's memory */

static guint32 big32(const guint8 *at) {
  return (guint32)at[0] << 24 | (guint32)at[1] << 16 | (guint32)at[2] << 8 | at[3];
}

static guint32 little24(const guint8 *at) {
  return (guint32)at[2] << 16 | (guint32)at[1] << 8 | at[0];
}

static gboolean fair_size(double width, double height) {
  return width >= 1 && height >= 1 && width * height <= PIXELS_MOST;
}

/* Chunks fill the file exactly, from IHDR to IEND: nothing rides behind the picture. */
static gboolean is_png(const guint8 *data, gsize size) {
  gboolean drawn = FALSE;
  if (size < 45 || memcmp(data, "\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR", 16) != 0 ||
      !fair_size(big32(data + 16), big32(data + 20)))
    return FALSE;
  for (gsize at = 8; size - at >= 12;) {
    gsize length = big32(data + at);
    if (length > size - at - 12)
      return FALSE;
    drawn |= memcmp(data + at + 4, "IDAT", 4) == 0;
    if (memcmp(data + at + 4, "IEND", 4) == 0)
      return drawn && at + 12 + length == size;
    at += 12 + length;
  }
  return FALSE;
}

static gboolean starts_frame(guint8 marker) {
  return marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc;
}

#define JPEG_LEAST 18 /* start, frame header of 10, scan header of 4, end */

/* Segments up to the scan, a frame header among them, and an end of image somewhere behind. */
static gboolean is_jpeg(const guint8 *data, gsize size) {
  gboolean framed = FALSE;
  if (size < JPEG_LEAST || memcmp(data, "\xff\xd8\xff", 3) != 0)
    return FALSE;
  for (gsize at = 2; size - at >= 4;) {
    guint8 marker = data[at + 1];
    gsize length = (gsize)data[at + 2] << 8 | data[at + 3];
    if (data[at] != 0xff || marker < 0xc0 || length < 2 || length > size - at - 2)
      return FALSE;
    if (starts_frame(marker)) {
      if (framed || length < 8 ||
          !fair_size(data[at + 7] << 8 | data[at + 8], data[at + 5] << 8 | data[at + 6]))
        return FALSE;
      framed = TRUE;
    }
    at += 2 + length;
    if (marker == 0xda)
      return framed && memmem(data + at, size - at, "\xff\xd9", 2) != NULL;
  }
  return FALSE;
}

static gboolean is_webp(const guint8 *data, gsize size) {
  if (size < 30 || memcmp(data, "RIFF", 4) != 0 || memcmp(data + 8, "WEBP", 4) != 0)
    return FALSE;
  gsize told = (gsize)data[7] << 24 | little24(data + 4);
  if (told + 8 != size)
    return FALSE;
  if (memcmp(data + 12, "VP8X", 4) == 0)
    return fair_size(little24(data + 24) + 1.0, little24(data + 27) + 1.0);
  if (memcmp(data + 12, "VP8L", 4) == 0)
    return data[20] == 0x2f;
  return memcmp(data + 12, "VP8 ", 4) == 0 && memcmp(data + 23, "\x9d\x01\x2a", 3) == 0;
}

const char *ew_media_of(const guint8 *data, gsize size) {
  if (is_png(data, size))
    return "image/png";
  if (is_jpeg(data, size))
    return "image/jpeg";
  if (is_webp(data, size))
    return "image/webp";
  if (size >= 5 && memcmp(data, "%PDF-", 5) == 0)
    return "application/pdf";
  return size > 0 && g_utf8_validate((const char *)data, (gssize)size, NULL)
             ? "text/plain"
             : "application/octet-stream";
}

gboolean ew_media_is_picture(const char *media) {
  return g_str_has_prefix(media, "image/");
}

/* The orientation of an Exif segment (CIPA DC-008, 4.6.4: tag 0x0112 of the first directory); 1 when
 * there is none. `data` is what stands behind "Exif\0\0". */
static int orientation_of(const guint8 *data, gsize size) {
  if (size < 14 || (memcmp(data, "II*\0", 4) != 0 && memcmp(data, "MM\0*", 4) != 0))
    return 1;
  gboolean big = data[0] == 'M';
  gsize at = big ? big32(data + 4) : ((gsize)data[7] << 24 | little24(data + 4));
  if (at > size - 2)
    return 1;
  guint count = big ? (guint)data[at] << 8 | data[at + 1] : (guint)data[at + 1] << 8 | data[at];
  for (at += 2; count-- > 0 && at + 12 <= size; at += 12) {
    guint tag = big ? (guint)data[at] << 8 | data[at + 1] : (guint)data[at + 1] << 8 | data[at];
    int value = big ? data[at + 9] : data[at + 8];
    if (tag == 0x0112)
      return value >= 1 && value <= 8 ? value : 1;
  }
  return 1;
}

static void add_orientation(GByteArray *out, int value) {
  guint8 segment[] = {0xff, 0xe1, 0, 34,   'E', 'x', 'i', 'f', 0, 0, 'M', 'M', 0, '*', 0, 0, 0, 8,
                      0,    1,    1, 0x12, 0,   3,   0,   0,   0, 1, 0,   0,   0, 0,   0, 0, 0, 0};
  segment[29] = (guint8)value;
  g_byte_array_append(out, segment, sizeof segment);
}

/* Segments that hold data of applications (but for colour: APP0, APP2, APP14) and comments go. */
static GBytes *plain_jpeg(const guint8 *data, gsize size) {
  GByteArray *out = g_byte_array_new();
  int turned = 1;
  gsize at = 2;
  for (; data[at + 1] != 0xda; at += 2 + ((gsize)data[at + 2] << 8 | data[at + 3])) {
    gsize length = (gsize)data[at + 2] << 8 | data[at + 3];
    if (data[at + 1] == 0xe1 && length > 8 && memcmp(data + at + 4, "Exif\0\0", 6) == 0)
      turned = orientation_of(data + at + 10, length - 8);
  }
  g_byte_array_append(out, data, 2);
  if (turned != 1)
    add_orientation(out, turned);
  for (at = 2; data[at + 1] != 0xda;) {
    guint8 marker = data[at + 1];
    gsize length = 2 + ((gsize)data[at + 2] << 8 | data[at + 3]);
    gboolean colour = marker == 0xe0 || marker == 0xe2 || marker == 0xee;
    if (colour || !((marker >= 0xe0 && marker <= 0xef) || marker == 0xfe))
      g_byte_array_append(out, data + at, (guint)length);
    at += length;
  }
  const guint8 *end = data + size;
  while (end - data > 2 && !(end[-2] == 0xff && end[-1] == 0xd9)) /* what rides behind goes */
    end--;
  g_byte_array_append(out, data + at, (guint)(end - data - (gssize)at));
  return g_byte_array_free_to_bytes(out);
}

/* Chunks that are text, time or Exif go (ISO/IEC 15948, 11.3.4; PNG third edition, 11.3.3.4 for eXIf). */
static GBytes *plain_png(const guint8 *data, gsize size) {
  static const char *const gone[] = {"tEXt", "zTXt", "iTXt", "tIME", "eXIf"};
  GByteArray *out = g_byte_array_new();
  g_byte_array_append(out, data, 8);
  for (gsize at = 8; at < size;) {
    gsize length = 12 + (gsize)big32(data + at);
    gboolean stays = TRUE;
    for (gsize i = 0; i < G_N_ELEMENTS(gone); i++)
      stays &= memcmp(data + at + 4, gone[i], 4) != 0;
    if (stays)
      g_byte_array_append(out, data + at, (guint)length);
    at += length;
  }
  return g_byte_array_free_to_bytes(out);
}

GBytes *ew_media_plain(GBytes *bytes) {
  gsize size;
  const guint8 *data = g_bytes_get_data(bytes, &size);
  if (is_jpeg(data, size))
    return plain_jpeg(data, size);
  return is_png(data, size) ? plain_png(data, size) : g_bytes_ref(bytes);
}

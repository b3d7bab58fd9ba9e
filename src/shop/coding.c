/* zlib through GIO's converters. Blocks of live recordings, doubles of quantised sensors, come to a fifth or so. */
#include "shop/coding.h"
#include "base/error.h"
#include <gio/gio.h>
#include <string.h>

#define LEVEL 6
#define MOST  ((gint64)1 << 31) /* of one row; a book takes less */

/* All of it, into `out` of `size` bytes. -1: it does not fit, or is in another coding. */
static gssize convert(GConverter *converter, GBytes *in, guchar *out, gsize size) {
  gsize left, done = 0;
  const guchar *data = g_bytes_get_data(in, &left);
  for (;;) {
    gsize read = 0, written = 0;
    GConverterResult how = g_converter_convert(converter, data, left, out + done, size - done,
                                               G_CONVERTER_INPUT_AT_END, &read, &written, NULL);
    if (how == G_CONVERTER_ERROR)
      return -1;
    data += read;
    left -= read;
    done += written;
    if (how == G_CONVERTER_FINISHED)
      return left == 0 ? (gssize)done : -1;
    if (done == size)
      return -1;
  }
}

GBytes *ew_coding_pack(GBytes *bytes, const char **coding) {
  gsize size = g_bytes_get_size(bytes);
  g_autoptr(GZlibCompressor) zlib = g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB, LEVEL);
  g_autofree guchar *out = g_malloc(size + 1);
  gssize packed = size > 64 ? convert(G_CONVERTER(zlib), bytes, out, size) : -1;
  *coding = packed >= 0 ? "zlib" : "plain";
  return packed >= 0 ? g_bytes_new(out, (gsize)packed) : g_bytes_ref(bytes);
}

static GBytes *inflate(GBytes *coded, gsize size) {
  g_autoptr(GZlibDecompressor) zlib = g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB);
  g_autofree guchar *out = g_try_malloc(size + 1);
  gssize whole = out ? convert(G_CONVERTER(zlib), coded, out, size + 1) : -1;
  return whole == (gssize)size ? g_bytes_new_take(g_steal_pointer(&out), size) : NULL;
}

GBytes *ew_coding_unpack(GBytes *coded, const char *coding, gint64 size, const char *sha256,
                         GError **error) {
  GBytes *whole = NULL;
  if (size >= 0 && size <= MOST && strcmp(coding, "zlib") == 0)
    whole = inflate(coded, (gsize)size);
  else if (size == (gint64)g_bytes_get_size(coded) && strcmp(coding, "plain") == 0)
    whole = g_bytes_ref(coded);
  g_autofree char *digest =
      whole ? g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, whole) : g_strdup("");
  if (strcmp(digest, sha256) == 0)
    return whole;
  g_clear_pointer(&whole, g_bytes_unref);
  ew_refuse(error,
            "bytes that the shop holds (%.12s) are not what was sent: restore the shop from a "
            "backup",
            sha256);
  return NULL;
}

/* Any bytes as an attachment: its kind is one of the list; a picture without what a camera wrote beside it is again a picture of that
 * kind, and loses nothing when it is stripped twice. */
#include "book/media.h"
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  const char *media = ew_media_of(data, size);
  g_autoptr(GBytes) bytes = g_bytes_new(data, size);
  g_autoptr(GBytes) plain = ew_media_plain(bytes);
  if (!ew_media_is_picture(media))
    return 0;
  gsize n;
  const guint8 *at = g_bytes_get_data(plain, &n);
  if (strcmp(ew_media_of(at, n), media) != 0)
    abort();
  g_autoptr(GBytes) twice = ew_media_plain(plain);
  if (!g_bytes_equal(plain, twice))
    abort();
  return 0;
}

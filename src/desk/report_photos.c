/* Photos of a test report that is sent as one file: JPEG and PNG of the book's attachments, by number, up to a size that mail
 * carries. What a camera writes beside the picture (place, owner) is left out (book/media.h). */
#include "desk/report_parts.h"
#include "base/error.h"
#include "book/attachment.h"
#include "book/media.h"
#include <string.h>

static void photo_clear(void *data) {
  struct ew_report_photo *photo = data;
  g_bytes_unref(photo->bytes);
  g_free(photo->caption);
}

static gboolean add_photo(struct ew_report *r, struct ew_book *book, gint64 id, gsize *total,
                          GError **error) {
  struct ew_attachment_row row;
  if (!ew_attachment_get(book, id, &row, error))
    return FALSE;
  GBytes *bytes = ew_attachment_bytes(book, id, error);
  gsize size = 0;
  const guint8 *data = bytes ? g_bytes_get_data(bytes, &size) : NULL;
  const char *media = bytes ? ew_media_of(data, size) : "";
  gboolean good = bytes != NULL;
  if (good && strcmp(media, "image/jpeg") && strcmp(media, "image/png"))
    good =
        ew_refuse(error, "photos: attachment %" G_GINT64_FORMAT " (%s) is not a sound JPEG or PNG",
                  id, row.name);
  else if (good && row.withdrawn)
    good = ew_refuse(error, "photos: attachment %" G_GINT64_FORMAT " was withdrawn: %s", id,
                     row.withdrawn);
  else if (good && (*total += size) > EW_REPORT_PHOTO_BYTES)
    good = ew_refuse(error, "photos: together over %zu MB: choose fewer, or smaller ones",
                     EW_REPORT_PHOTO_BYTES >> 20);
  if (good) {
    g_assert(bytes && *total <= EW_REPORT_PHOTO_BYTES);
    struct ew_report_photo photo = {media, ew_media_plain(bytes),
                                    g_strdup(row.note ? row.note : row.name)};
    g_array_append_val(r->photos, photo);
  }
  if (bytes)
    g_bytes_unref(bytes);
  ew_attachment_row_clear(&row);
  return good;
}

gboolean ew_report_photos(struct ew_report *r, struct ew_book *book, const char *ids,
                          GError **error) {
  r->photos = g_array_new(FALSE, FALSE, sizeof(struct ew_report_photo));
  g_array_set_clear_func(r->photos, photo_clear);
  g_auto(GStrv) parts = g_strsplit(ids ? ids : "", ",", -1);
  gsize total = 0;
  for (int i = 0; parts[i]; i++) {
    guint64 id;
    if (!g_ascii_string_to_unsigned(g_strstrip(parts[i]), 10, 1, G_MAXINT32, &id, NULL))
      return ew_refuse(error, "photos: '%.40s' is not an attachment number", parts[i]);
    if (!add_photo(r, book, (gint64)id, &total, error))
      return FALSE;
  }
  return TRUE;
}

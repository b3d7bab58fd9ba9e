/* What every reader of a travelling row needs, whatever store it came from. */
#include "book/row.h"
#include <string.h>

void ew_row_clear(struct ew_row *row) {
  g_clear_pointer(&row->body, g_free);
  g_clear_pointer(&row->parts, g_ptr_array_unref);
  g_clear_pointer(&row->uid, g_free);
  g_clear_pointer(&row->lasting, g_free);
}

void ew_row_digest(const struct ew_row_name *name, const char *body, char digest[EW_SHA256_SIZE]) {
  g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
  g_autofree char *head = g_strdup_printf("%s\n%d %" G_GINT64_FORMAT "\n%d %s\n", name->what,
                                          name->has_number, name->has_number ? name->number : 0,
                                          name->key != NULL, name->key ? name->key : "");
  g_checksum_update(sum, (const guchar *)head, (gssize)strlen(head));
  g_checksum_update(sum, (const guchar *)body, (gssize)strlen(body));
  g_strlcpy(digest, g_checksum_get_string(sum), EW_SHA256_SIZE);
}

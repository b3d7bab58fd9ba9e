/* What was found by looking, for several owners at once: all in one transaction or none. */
#include "desk/found.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "book/keep.h"

#define OWNERS_MOST 200

gboolean ew_write_found(struct ew_book *book, const struct ew_found_ask *a, GError **error) {
  if (a->owners->len == 0 || a->owners->len > OWNERS_MOST)
    return ew_refuse(error, "which %ss? One number to %d are wanted", a->belongs, OWNERS_MOST);
  const gint64 *owners = (const gint64 *)(void *)a->owners->data;
  return a->take_back
             ? ew_keep_found_withdrawn(book, a->belongs, owners, a->owners->len, a->take_back,
                                       error)
             : ew_keep_found(book, a->belongs, owners, a->owners->len, a->text, a->who, error);
}

void ew_found_json(struct ew_book *book, const char *belongs, gint64 owner_id, const char *key,
                   struct ew_json *json) {
  g_autoptr(GArray) rows = ew_found_list(book, belongs, owner_id, NULL);
  ew_json_open_array(json, key);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_found_row *r = &g_array_index(rows, struct ew_found_row, i);
    ew_json_open(json, NULL);
    ew_json_text(json, "at", r->at);
    ew_json_text(json, "who", r->who);
    ew_json_text(json, "text", r->text);
    ew_json_text(json, "taken_back", r->withdrawn);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* What was found by looking, for several owners at once: all in one transaction or none. */
#include "desk/found.h"
#include "base/error.h"
#include "base/json_writer.h"

#define OWNERS_MOST 200

static gboolean write_all(struct ew_book *book, const struct ew_found_ask *a, GError **error) {
  for (guint i = 0; i < a->owners->len; i++) {
    gint64 id = g_array_index(a->owners, gint64, i);
    gboolean good = a->take_back ? ew_found_withdraw(book, a->belongs, id, a->take_back, error)
                                 : ew_found_add(book, a->belongs, id, a->text, a->who, error) != 0;
    if (!good)
      return FALSE;
  }
  return TRUE;
}

gboolean ew_write_found(struct ew_book *book, const struct ew_found_ask *a, GError **error) {
  if (a->owners->len == 0 || a->owners->len > OWNERS_MOST)
    return ew_refuse(error, "which %ss? One number to %d are wanted", a->belongs, OWNERS_MOST);
  if (!ew_book_begin(book, error))
    return FALSE;
  if (write_all(book, a, error) && ew_book_commit(book, error))
    return TRUE;
  ew_book_rollback(book);
  return FALSE;
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

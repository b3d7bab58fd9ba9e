/* Notes pinned on curves: listed for the pulls of a plot, added, taken back. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/curve_note.h"
#include "serve/service.h"
#include <string.h>

#define PULLS_MOST 40 /* as many as one plot holds */

/* ?pulls=1,2,3: of these. */
gboolean ew_api_curve_notes(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  const char *asked = ew_request_query(r, "pulls");
  g_auto(GStrv) ids = g_strsplit(asked ? asked : "", ",", PULLS_MOST + 2);
  guint count = g_strv_length(ids);
  if (count < 1 || count > PULLS_MOST)
    return ew_refuse(error, "which pulls? Ask for ?pulls=1,2,3, of %d at most", PULLS_MOST);
  ew_json_open_array(&reply->json, "curves");
  for (guint i = 0; i < count; i++) {
    guint64 id;
    if (!g_ascii_string_to_unsigned(ids[i], 10, 1, G_MAXINT32, &id, NULL))
      return ew_refuse(error, "pulls: '%.40s' is not a pull number", ids[i]);
    ew_json_open(&reply->json, NULL);
    ew_json_integer(&reply->json, "id", (gint64)id);
    if (!ew_curve_notes_json(s->book, (gint64)id, "notes", &reply->json, error))
      return FALSE;
    ew_json_close(&reply->json);
  }
  ew_json_close_array(&reply->json);
  return TRUE;
}

gboolean ew_api_curve_note_add(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  gboolean added = FALSE;
  gint64 id = body ? ew_write_curve_note(s->book, r->id, ew_node_text(body, "speed"),
                                         ew_node_text(body, "text"), ew_node_text(body, "who"),
                                         &added, error)
                   : 0;
  if (!id)
    return FALSE;
  ew_json_integer(&reply->json, "id", id);
  ew_json_boolean(&reply->json, "added", added);
  reply->changed = added;
  return TRUE;
}

gboolean ew_api_curve_note_withdraw(struct ew_service *s, const struct ew_request *r,
                                    struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body || !ew_keep_curve_note_withdrawn(s->book, r->id, ew_node_text(body, "why"), error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}

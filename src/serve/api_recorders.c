/* How a recorder's files are read, kept from the page: the profile that the program proposes from a recording in the book; what is kept
 * already, and one withdrawn. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/recorder.h"
#include "serve/service.h"
#include <string.h>

static gboolean recording_of(const ew_node *body, gint64 *id, GError **error) {
  const char *text = ew_node_text(body, "recording");
  return (text && g_ascii_string_to_signed(text, 10, 1, G_MAXINT64, id, NULL)) ||
         ew_refuse(error, "recording: a whole number above 0 is needed");
}

gboolean ew_api_recorders(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                          GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *name = body ? ew_node_text(body, "name") : NULL;
  struct ew_desk desk = {0};
  gint64 recording, version = 0;
  g_autofree char *yaml = NULL;
  if (!body || !recording_of(body, &recording, error))
    return FALSE;
  if (!name || !*name)
    return ew_refuse(error, "name: what this recorder is called in the shop is needed");
  gboolean good = ew_desk_open(&desk, s->book, error) &&
                  ew_recorder_keep_like(&desk, recording, name, ew_node_text(body, "who"), &version,
                                        &yaml, error);
  ew_desk_clear(&desk);
  if (!good)
    return FALSE;
  ew_json_text(&reply->json, "name", name);
  ew_json_integer(&reply->json, "version", version);
  ew_json_text(&reply->json, "profile", yaml);
  reply->changed = TRUE;
  return TRUE;
}

static void write_recorder(const struct ew_recorder_row *row, struct ew_json *json) {
  ew_json_open(json, NULL);
  ew_json_text(json, "name", row->name);
  ew_json_integer(json, "version", row->version);
  ew_json_text(json, "at", row->at);
  ew_json_text(json, "who", row->who);
  ew_json_text(json, "withdrawn", row->withdrawn);
  ew_json_text(json, "profile", row->yaml);
  ew_json_close(json);
}

/* The last version of each, by name. */
gboolean ew_api_recorders_list(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  (void)r;
  g_autoptr(GArray) rows = ew_recorder_list(s->book, NULL, error);
  if (!rows)
    return FALSE;
  ew_json_open_array(&reply->json, "recorders");
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_recorder_row *row = &g_array_index(rows, struct ew_recorder_row, i);
    gboolean last = i + 1 == rows->len || strcmp(row[1].name, row->name) != 0;
    if (last)
      write_recorder(row, &reply->json);
  }
  ew_json_close_array(&reply->json);
  return TRUE;
}

gboolean ew_api_recorder_withdraw(struct ew_service *s, const struct ew_request *r,
                                  struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *name = body ? ew_node_text(body, "name") : NULL;
  const char *why = body ? ew_node_text(body, "reason") : NULL;
  if (!body)
    return FALSE;
  if (!name || !*name)
    return ew_refuse(error, "name: which recorder is needed");
  if (!why || !*why || strlen(why) > 1000)
    return ew_refuse(error, "reason: give up to 1,000 bytes; a withdrawn profile is kept with it");
  reply->changed = ew_keep_recorder_withdrawn(s->book, name, why, error);
  return reply->changed;
}

/* How a recorder's files are read, kept from the page: the profile that the program proposes from a recording in the book. */
#include "base/error.h"
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

/* Photos and files: kept as they come, handed out inert. A file is shown in place only when it is a picture
 * whose frame was walked (book/media.h), under the type found then; everything else is a download of
 * bytes without a meaning, whatever it says of itself. */
#include "base/error.h"
#include "book/keep.h"
#include "book/media.h"
#include "desk/attach.h"
#include "serve/service.h"
#include <string.h>

gboolean ew_api_attachments(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  const char *of = ew_request_query(r, "of");
  struct ew_owner owner = {0};
  g_autoptr(GError) problem = NULL;
  if (of && !ew_desk_owner(s->book, of, NULL, &owner, error))
    return FALSE;
  g_autoptr(GArray) rows =
      ew_attachment_list(s->book, of ? &owner : NULL, ew_request_query(r, "all") != NULL, &problem);
  if (of)
    ew_desk_owner_clear(&owner);
  if (problem) {
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
  }
  ew_json_rows(&reply->json, "attachments", rows, ew_attachment_row_json);
  return TRUE;
}

gboolean ew_api_attachment_add(struct ew_service *s, const struct ew_request *r,
                               struct ew_reply *reply, GError **error) {
  const char *name = ew_request_query(r, "name"), *to = ew_request_query(r, "to");
  struct ew_owner owner;
  if (!name || !*name || strlen(name) > 400)
    return ew_refuse(error, "name: the file's name is needed, of up to 400 bytes");
  if (!to)
    return ew_refuse(error, "to: say what it belongs to: pull:12, day, build, engine");
  if (!ew_desk_owner(s->book, to, NULL, &owner, error))
    return FALSE;
  gint64 id = ew_keep_attachment(s->book, &owner, name, r->body, ew_request_query(r, "note"),
                                 ew_request_query(r, "taken_at"), error);
  ew_desk_owner_clear(&owner);
  if (!id)
    return FALSE;
  ew_json_integer(&reply->json, "id", id);
  reply->changed = TRUE;
  return TRUE;
}

char *ew_service_header_name(const char *name) {
  GString *safe = g_string_new(NULL);
  for (const char *c = name; *c && safe->len < 80; c++)
    g_string_append_c(safe, g_ascii_isalnum(*c) || strchr("._-", *c) ? *c : '-');
  return g_string_free(safe, FALSE);
}

/* A constant of this program, never a text of the book. */
static const char *shown_type(const char *media) {
  static const char *const types[] = {"image/jpeg", "image/png", "image/webp"};
  for (gsize i = 0; i < G_N_ELEMENTS(types); i++)
    if (strcmp(media, types[i]) == 0)
      return types[i];
  return NULL;
}

gboolean ew_api_attachment(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  struct ew_attachment_row row;
  GBytes *bytes = ew_attachment_bytes(s->book, r->id, error);
  if (!bytes)
    return FALSE;
  if (!ew_attachment_get(s->book, r->id, &row, error)) {
    g_bytes_unref(bytes);
    return FALSE;
  }
  gsize size;
  const guint8 *data = g_bytes_get_data(bytes, &size);
  const char *type = shown_type(ew_media_of(data, size)); /* looked at again: the book may lie */
  reply->bytes = bytes;
  reply->inert = TRUE;
  reply->type = type ? type : "application/octet-stream";
  if (!type || ew_request_query(r, "download"))
    reply->download = ew_service_header_name(row.name);
  ew_attachment_row_clear(&row);
  return TRUE;
}

gboolean ew_api_attachment_withdraw(struct ew_service *s, const struct ew_request *r,
                                    struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *why = body ? ew_node_text(body, "reason") : NULL;
  gboolean back = body && ew_node_member(body, "put_back") != NULL;
  if (!body)
    return FALSE;
  if (back == (why && *why) || (why && strlen(why) > 400))
    return ew_refuse(error, "give reason (up to 400 bytes), or put_back");
  if (!ew_keep_attachment_withdrawn(s->book, r->id, back ? NULL : why, error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}

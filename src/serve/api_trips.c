/* Trips, and what was found: written from the page as from the command line. */
#include "base/error.h"
#include "desk/found.h"
#include "desk/trip.h"
#include "serve/service.h"
#include <string.h>

static void write_trip(const void *row, struct ew_json *json) {
  const struct ew_trip_row *t = row;
  g_autofree char *text = ew_trip_text(t);
  ew_trip_row_json(t, json);
  ew_json_text(json, "text", text);
}

/* ?pull=12: those in that pull; ?open=yes: those that stand open, of all engines or of ?engine=1. */
gboolean ew_api_trips(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  const char *pull = ew_request_query(r, "pull"), *engine = ew_request_query(r, "engine");
  guint64 id = 0;
  GError *problem = NULL;
  if ((pull || engine) &&
      !g_ascii_string_to_unsigned(pull ? pull : engine, 10, 1, G_MAXINT32, &id, NULL))
    return ew_refuse(error, "%s: '%.40s' is not a number", pull ? "pull" : "engine",
                     pull ? pull : engine);
  g_autoptr(GArray) rows = pull ? ew_trip_of_pull(s->book, (gint64)id, &problem)
                           : ew_request_query(r, "open")
                               ? ew_trip_open(s->book, (gint64)id, &problem)
                               : ew_trip_list(s->book, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  ew_json_rows(&reply->json, "trips", rows, write_trip);
  if (pull)
    ew_found_json(s->book, EW_FOUND_PULL, (gint64)id, "seen", &reply->json);
  return TRUE;
}

static gboolean read_ids(const struct ew_node *list, GArray *into, GError **error) {
  for (guint i = 0; list && list->kind == EW_NODE_LIST && i < list->children->len; i++) {
    const struct ew_node *item = g_ptr_array_index(list->children, i);
    guint64 id;
    if (!item->text || !g_ascii_string_to_unsigned(item->text, 10, 1, G_MAXINT32, &id, NULL))
      return ew_refuse(error, "ids: give whole numbers");
    gint64 number = (gint64)id;
    g_array_append_val(into, number);
  }
  return into->len > 0 || ew_refuse(error, "ids: give a list of numbers, for example [3, 4]");
}

gboolean ew_api_found(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                      GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  if (!body || !read_ids(ew_node_member(body, "ids"), ids, error))
    return FALSE;
  const char *of = ew_node_text(body, "of");
  if (g_strcmp0(of, EW_FOUND_TRIP) != 0 && g_strcmp0(of, EW_FOUND_PULL) != 0)
    return ew_refuse(error, "of: give trip or pull");
  struct ew_found_ask ask = {.belongs = of,
                             .owners = ids,
                             .text = ew_node_text(body, "text"),
                             .who = ew_node_text(body, "who"),
                             .take_back = ew_node_text(body, "take_back")};
  if (!ew_write_found(s->book, &ask, error))
    return FALSE;
  ew_json_integer(&reply->json, "written", ids->len);
  reply->changed = TRUE;
  return TRUE;
}

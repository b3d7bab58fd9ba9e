/* The table of routes, the queue that each request waits in, and one request answered: found, guarded against the
 * wrong book, looked up among kept answers, handled, and refused in words with the right status when it fails.
 * Handlers write into an open JSON object and report by GError. */
#include "serve/service.h"
#include "base/error.h"
#include "base/language.h"
#include "serve/assets.h"
#include "serve/answers.h"
#include <string.h>

static const struct ew_route routes[] = {
#define X(verb, pattern, id, writes, pace) {#verb, pattern, ew_api_##id, writes, EW_PACE_##pace},
    EW_ROUTES(X)
#undef X
};

static gboolean matches(const char *pattern, const char *path, gint64 *id) {
  const char *brace = strstr(pattern, "{id}");
  if (!brace)
    return strcmp(pattern, path) == 0;
  gsize head = (gsize)(brace - pattern);
  if (strncmp(pattern, path, head) != 0)
    return FALSE;
  gsize digits = strspn(path + head, "0123456789");
  g_assert(head > 0);
  if (digits == 0 || digits > 15 || strcmp(path + head + digits, brace + 4) != 0)
    return FALSE;
  *id = g_ascii_strtoll(path + head, NULL, 10);
  return TRUE;
}

const struct ew_route *ew_route_find(const char *verb, const char *path, gint64 *id,
                                     gboolean *known) {
  *known = FALSE;
  *id = 0;
  for (gsize i = 0; i < G_N_ELEMENTS(routes); i++) {
    if (!matches(routes[i].pattern, path, id))
      continue;
    *known = TRUE;
    if (strcmp(routes[i].verb, verb) == 0)
      return &routes[i];
  }
  return NULL;
}

enum ew_queue ew_service_queue(const struct ew_request *request) {
  gint64 id;
  gboolean known, head = strcmp(request->verb, "HEAD") == 0;
  const struct ew_route *route =
      ew_route_find(head ? "GET" : request->verb, request->path, &id, &known);
  if (!route)
    return EW_QUEUE_AT_ONCE; /* a file of the page, or nothing */
  switch (route->pace) {
  case EW_PACE_AT_ONCE: return EW_QUEUE_AT_ONCE;
  case EW_PACE_CONTROL: return EW_QUEUE_CONTROL;
  case EW_PACE_WRITE: return EW_QUEUE_WRITE;
  case EW_PACE_READ: return request->from_here ? EW_QUEUE_READ_HERE : EW_QUEUE_READ_FAR;
  case EW_PACE_SLOW:
  case EW_PACE_KEPT: break;
  }
  return request->from_here ? EW_QUEUE_SLOW_HERE : EW_QUEUE_SLOW_FAR;
}

static void refuse(struct ew_reply *reply, guint status, const char *why, const char *remedy,
                   const char *field) {
  if (reply->json.text)
    g_string_free(reply->json.text, TRUE);
  g_clear_pointer(&reply->bytes, g_bytes_unref);
  *reply = (struct ew_reply){.status = status, .json = {.text = g_string_new(NULL)}};
  ew_json_open(&reply->json, NULL);
  ew_json_text(&reply->json, "error", why);
  ew_json_text(&reply->json, "remedy", remedy);
  ew_json_text(&reply->json, "field", field);
  ew_json_close(&reply->json);
}

static guint status_of(const GError *error) {
  g_assert(error); /* whoever refuses says why */
  if (error->domain != EW_ERROR || error->code == EW_ERROR_INTERNAL)
    return 500;
  if (error->code == EW_ERROR_ASKS)
    return 422; /* RFC 9110: understood, and not carried out as it stands */
  return error->code == EW_ERROR_NO ? 409 : 400;
}

static void refuse_in_words(struct ew_reply *reply, const GError *error) {
  g_autofree char *says = ew_error_says(error, EW_AT_PAGE);
  refuse(reply, reply->status ? reply->status : status_of(error), says,
         ew_remedy_key(ew_error_remedy(error)), ew_error_field(error));
}

/* What waited on a device names the book that it was taken for: another at this address must not get it. */
static gboolean is_for_this_book(struct ew_service *service, const struct ew_request *request) {
  const char *meant = ew_request_query(request, "book");
  return !meant || g_strcmp0(meant, service->identity) == 0;
}

static void answer(struct ew_service *service, struct ew_request *request, struct ew_reply *reply) {
  gboolean known;
  gboolean head = strcmp(request->verb, "HEAD") == 0;
  const char *verb = head ? "GET" : request->verb;
  if (strcmp(verb, "GET") == 0 && ew_asset_find(request, reply))
    return;
  const struct ew_route *route = ew_route_find(verb, request->path, &request->id, &known);
  if (!route) {
    refuse(reply, known ? 405 : 404,
           known ? ew_tr("this address does not take this kind of request")
                 : ew_tr("there is nothing at this address"),
           NULL, NULL);
    return;
  }
  if (route->writes && !is_for_this_book(service, request)) {
    refuse(reply, 412, ew_tr("this was meant for another book than the one that is open here"),
           NULL, NULL);
    return;
  }
  gboolean keeps = route->pace == EW_PACE_KEPT && service->kept;
  if (keeps && ew_answers_find(service->kept, service->book, request, reply))
    return;
  g_autoptr(GError) error = NULL;
  g_assert(!reply->json.text && !reply->bytes);
  reply->json.text = g_string_new(NULL);
  ew_json_open(&reply->json, NULL);
  ew_book_forget_trouble(); /* what an earlier request of this thread met is not this one's */
  gboolean good = route->handler(service, request, reply, &error);
  g_autoptr(GError) trouble = ew_book_take_trouble();
  if (good && !error && trouble) /* something read around it */
    error = g_steal_pointer(&trouble);
  if (!good || error) {
    refuse_in_words(reply, error);
    return;
  }
  ew_json_close(&reply->json);
  if (keeps)
    ew_answers_add(service->kept, request, reply);
}

void ew_service_answer(struct ew_service *service, struct ew_request *request,
                       struct ew_reply *reply) {
  const ew_language *former = ew_language_of_thread(request->language);
  answer(service, request, reply);
  ew_language_of_thread(former);
}

const struct ew_spread *ew_service_repeat(struct ew_service *s, const struct ew_desk *desk) {
  struct ew_change now = ew_book_change(s->book);
  if (s->learned_from && ew_change_is_same(now, s->learned_at))
    return s->learned.levels;
  g_autofree char *from = ew_pulls_digest(s->book);
  if (!from || g_strcmp0(from, s->learned_from) != 0) {
    s->learned = ew_desk_history(desk, 0, NULL);
    g_free(s->learned_from);
    s->learned_from = g_steal_pointer(&from);
  }
  s->learned_at = now;
  return s->learned.levels;
}

enum ew_unit_system ew_service_units(struct ew_service *s, const struct ew_request *request) {
  const char *asked = ew_request_query(request, "units");
  g_autofree char *own = NULL;
  if (!asked)
    ew_setting_get(s->book, "units", &own, NULL); /* the request ends with what went wrong */
  return g_strcmp0(asked ? asked : own, "us") == 0 ? EW_UNITS_US : EW_UNITS_SI;
}

gboolean ew_service_load(const struct ew_desk *desk, const char *ids, GPtrArray *into,
                         GError **error) {
  g_auto(GStrv) parts = g_strsplit(ids, ",", -1);
  for (int i = 0; parts[i]; i++) {
    guint64 id;
    if (!g_ascii_string_to_unsigned(parts[i], 10, 1, G_MAXINT32, &id, NULL))
      return ew_refuse(error, "'%.40s' is not a pull number", parts[i]);
    struct ew_loaded *loaded = ew_desk_load_id(desk, (gint64)id, error);
    if (!loaded)
      return FALSE;
    g_ptr_array_add(into, loaded);
  }
  return into->len > 0 || ew_refuse(error, "no pull is named");
}

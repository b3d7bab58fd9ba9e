/* The live session, as the page steers it. What is asked of the dyno is a request and no safety
 * device: hard-wired stop, overspeed trip, gas and fire systems remain necessary. */
#include "base/error.h"
#include "base/as_pointer.h"
#include "base/plain.h"
#include "book/stream.h"
#include "desk/record.h"
#include "serve/live.h"
#include "serve/service.h"
#include "serve/sources.h"
#include <math.h>
#include <string.h>

#define SOURCES_MOST 8

static void write_unfinished(const void *row, struct ew_json *json) {
  const struct ew_stream_row *u = row;
  ew_json_integer(json, "recording", u->id);
  ew_json_text(json, "source", u->source);
  ew_json_text(json, "began_at", u->began_at);
  ew_json_text(json, "last_stored_at", u->last_stored_at);
  ew_json_integer(json, "stored_rows", u->rows);
}

/* What a recorder that died left behind, until the next one closes it; or that another program records here. */
static gboolean write_cut_short(struct ew_service *s, struct ew_json *json, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_stream_unfinished(s->book, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  gboolean ours = ew_live_running(s->live);
  gboolean elsewhere = rows->len && !ours && ew_record_is_under_way(ew_book_path(s->book));
  if (ours || elsewhere)
    g_array_set_size(rows, 0);
  ew_json_boolean(json, "elsewhere", elsewhere);
  ew_json_rows(json, "cut_short", rows, write_unfinished);
  return TRUE;
}

/* Today's limit: as given, else the lower of the engine's and the cell's. */
static gboolean write_limit(struct ew_service *s, struct ew_json *json, GError **error) {
  double limit_rpm = ew_live_limit_rpm(s->live);
  if (!(limit_rpm > 0) && !ew_record_limit_rpm(s->book, &limit_rpm, error))
    return FALSE;
  ew_json_number(json, "limit_rpm", limit_rpm);
  return TRUE;
}

/* The engine that a session records. */
static gboolean write_engine(struct ew_service *s, struct ew_json *json, GError **error) {
  struct ew_engine_row engine = {0};
  if (!ew_engine_find(s->book, NULL, &engine, error))
    return FALSE;
  ew_json_integer(json, "engine_id", engine.id);
  ew_json_text(json, "engine", engine.name);
  ew_engine_row_clear(&engine);
  return TRUE;
}

gboolean ew_api_live(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  ew_live_write_json(s->live, r->from_here, &reply->json);
  ew_json_boolean(&reply->json, "may_name", r->from_here);
  ew_json_boolean(&reply->json, "may_send", r->may_send);
  ew_sources_write_json(s->sources, &reply->json);
  return write_engine(s, &reply->json, error) && write_limit(s, &reply->json, error) &&
         write_cut_short(s, &reply->json, error);
}

/* Nothing is measured: it goes into a book of its own. */
static gboolean is_play(const char *source) {
  return source && (g_str_has_prefix(source, "practice:") || g_str_has_prefix(source, "replay:"));
}

/* A practice session, or a replay, goes into the served book (*other NULL) only when that is a practice book, too. */
static gboolean book_for(struct ew_service *s, const char *source, char **other, GError **error) {
  g_autofree char *practice = NULL;
  *other = NULL;
  if (!ew_setting_get(s->book, "practice", &practice, error))
    return FALSE;
  if (is_play(source) && g_strcmp0(practice, "yes") != 0)
    *other = g_strconcat(ew_book_path(s->book), ".practice", NULL);
  return TRUE;
}

/* A page may not have this program read any file: what is there in plain, what was named here, or a recording of this very book. */
static gboolean check_source(struct ew_service *s, const char *source, GError **error) {
  g_autofree char *again = g_strdup_printf("replay:%s#", ew_book_path(s->book));
  if (source && (ew_source_is_plain(source) || ew_sources_knows(s->sources, source) ||
                 (g_str_has_prefix(source, again) && !strchr(source + strlen(again), '#'))))
    return TRUE;
  return ew_refuse(
      error,
      "source: give one of practice:, tcp://HOST:PORT, udp://ADDRESS:PORT, serial:/dev/DEVICE; any "
      "other is put together on the page of the machine that serves it");
}

/* "source": one, or "sources": several on one clock. The array borrows; NULL with *error. */
static GPtrArray *read_sources(struct ew_service *s, const struct ew_node *body, GError **error) {
  g_autoptr(GPtrArray) sources = g_ptr_array_new();
  const struct ew_node *list = ew_node_member(body, "sources");
  if (!list)
    g_ptr_array_add(sources, ew_as_pointer(ew_node_text(body, "source")));
  else if (list->kind == EW_NODE_LIST)
    for (guint i = 0; i < list->children->len; i++)
      g_ptr_array_add(sources, ((struct ew_node *)list->children->pdata[i])->text);
  if (sources->len < 1 || sources->len > SOURCES_MOST) {
    ew_refuse(error, "sources: give a list of 1 to %d", SOURCES_MOST);
    return NULL;
  }
  gboolean practice = is_play(sources->pdata[0]);
  for (guint i = 0; i < sources->len; i++) {
    if (!check_source(s, sources->pdata[i], error))
      return NULL;
    if (is_play(sources->pdata[i]) != practice) {
      ew_refuse(
          error,
          "sources: practice or a replay, and a real source, cannot go into one book together");
      return NULL;
    }
  }
  g_ptr_array_add(sources, NULL);
  return g_steal_pointer(&sources);
}

/* A far device would have this machine knock at doors that only it reaches: it starts what was named here. */
static gboolean may_start(struct ew_service *s, const struct ew_request *r,
                          const GPtrArray *sources, struct ew_reply *reply, GError **error) {
  for (guint i = 0; sources->pdata[i]; i++) {
    if (!r->from_here && !ew_sources_knows(s->sources, sources->pdata[i])) {
      reply->status = 403;
      return ew_refuse(error,
                       "source '%s': not named on the machine that serves the page; start it there "
                       "once from its page, or with serve --source",
                       (char *)sources->pdata[i]);
    }
  }
  return TRUE;
}

static void name_here(struct ew_service *s, const struct ew_request *r, const GPtrArray *sources) {
  for (guint i = 0; r->from_here && sources->pdata[i]; i++)
    ew_sources_name(s->sources, sources->pdata[i]);
}

/* A figure of the session, as text with its unit; absent or empty: NaN. */
static gboolean read_figure(const struct ew_node *body, const char *key, enum ew_kind kind,
                            double low, double high, double *value, GError **error) {
  const char *text = ew_node_text(body, key);
  *value = NAN;
  if (!text || !*text)
    return !ew_node_member(body, key) || text || ew_refuse(error, "%s: give a text", key);
  if (!ew_quantity_parse(key, text, kind, value, error))
    return FALSE;
  return (*value >= low && *value <= high) || ew_refuse(error, "%s: '%s' is outside %g to %g %s",
                                                        key, text, low, high, ew_kind_si(kind));
}

#define TABLE_BYTES 65536
#define NAME_BYTES  200

/* "alarms": "" or absent (the book's own, else the template), "template", or the name of a table whose text "alarms_table" is. A page
 * names no file of this machine, and a table it sends drives no output here: those belong to the machine. */
static gboolean read_alarms(const struct ew_node *body, char **yaml, const char **name,
                            GError **error) {
  const char *given = ew_node_text(body, "alarms"), *text = ew_node_text(body, "alarms_table");
  *yaml = NULL;
  *name = NULL;
  if (text) {
    if (!given || !*given || strlen(given) > NAME_BYTES || !ew_plain_is(given))
      return ew_refuse(error, "alarms: give the table a name of up to %d bytes", NAME_BYTES);
    if (strlen(text) > TABLE_BYTES)
      return ew_refuse(error, "alarms_table: %zu bytes, and at most %d are read", strlen(text),
                       TABLE_BYTES);
    *yaml = g_strdup(text);
    *name = given;
    return ew_record_alarms_check(text, given, error);
  }
  if (!given || !*given)
    return TRUE;
  if (strcmp(given, "template") != 0)
    return ew_refuse(error, "alarms: '%.40s': give 'template', or the text of a table as well",
                     given);
  *yaml = ew_record_alarms_template(name, error);
  return *yaml != NULL;
}

gboolean ew_api_live_start(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autoptr(GPtrArray) sources = body ? read_sources(s, body, error) : NULL;
  if (!sources || !may_start(s, r, sources, reply, error))
    return FALSE;
  const char *changed = ew_node_text(body, "changed");
  g_autofree char *book = NULL;
  if (!book_for(s, sources->pdata[0], &book, error))
    return FALSE;
  if (changed && (strlen(changed) > 400 || !ew_plain_is(changed)))
    return ew_refuse(error, "changed: give a line of up to 400 bytes without control characters");
  g_autofree char *alarms = NULL;
  struct ew_live_ask ask = {.sources = (const char *const *)sources->pdata,
                            .book_path = book,
                            .changed = changed && *changed ? changed : NULL};
  if (!read_figure(body, "limit", EW_KIND_ROTATIONAL_SPEED, 500, 30000, &ask.limit_rpm, error) ||
      !read_figure(body, "rate", EW_KIND_ROTATIONAL_ACCELERATION, 1, 5000, &ask.rate_rpm_s,
                   error) ||
      !read_alarms(body, &alarms, &ask.alarms_name, error))
    return FALSE;
  ask.alarms_yaml = alarms;
  if (!ew_live_start(s->live, &ask, error))
    return FALSE;
  name_here(s, r, sources);
  g_autofree char *name = book ? g_path_get_basename(book) : NULL;
  ew_json_text(&reply->json, "own_book", name);
  return TRUE;
}

gboolean ew_api_live_control(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body)
    return FALSE;
  const char *line = ew_node_text(body, "line");
  if (!line || strlen(line) >= 400 || !ew_plain_is(line) || g_str_has_prefix(line, "alarms ") ||
      strcmp(line, "stop") == 0) /* a page names no file; recording is ended by live/stop */
    return ew_refuse(
        error, "line: give one of 'mark TEXT', 'begin', 'end', 'arm', 'disarm', 'shut "
               "down', 'set NAME=VALUE', 'changed TEXT', 'send TEXT', 'clear NAME', 'clear all'");
  if (g_str_has_prefix(line, "send ") && !r->may_send) {
    reply->status = 403;
    return ew_refuse(
        error,
        "this device may not send to a source: that is a separate right, given with its code");
  }
  return ew_live_control(s->live, line, error);
}

gboolean ew_api_live_stop(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                          GError **error) {
  (void)r;
  (void)reply;
  return ew_live_stop(s->live, error);
}

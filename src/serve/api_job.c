/* Customers' jobs over HTTP. Rights are the page's: who may look at the shop's page may see them; a customer's link knows none of
 * these addresses (share_pages.c lists what it has). */
#include "base/error.h"
#include "base/node_change.h"
#include "desk/job_json.h"
#include "job/decimal.h"
#include "serve/service.h"
#include <string.h>

#define WHERE "job"

static void write_due(const void *row, struct ew_json *json) {
  const struct ew_job_due *d = row;
  ew_json_integer(json, "job", d->job_id);
  ew_json_text(json, "name", d->job);
  ew_json_text(json, "what", d->what);
  ew_json_text(json, "from", d->of_build ? "build" : "job");
  ew_json_number(json, "used_s", d->used_s);
  ew_json_number(json, "life_s", d->life_s);
  ew_json_text(json, "by", d->by[0] ? d->by : NULL);
  ew_json_boolean(json, "due", d->due);
}

static gboolean write_prices(struct ew_book *book, struct ew_json *json, GError **error) {
  g_autoptr(ew_job) shop = ew_job_load(book, 0, error);
  const struct ew_job_prices *p = shop ? ew_job_prices_now(shop) : NULL;
  if (!shop)
    return FALSE;
  ew_json_open(json, "prices");
  ew_json_integer(json, "version", p ? p->version : 0);
  ew_json_text(json, "currency", p ? p->currency : NULL);
  ew_json_text(json, "day", p ? p->mark.day : NULL);
  ew_job_lines_json(p ? p->mark.lines : NULL, json);
  ew_json_close(json);
  return TRUE;
}

gboolean ew_api_customer_jobs(struct ew_service *s, const struct ew_request *r,
                              struct ew_reply *reply, GError **error) {
  char today[11];
  g_autoptr(GArray) rows = ew_job_list(s->book, error);
  g_autoptr(GArray) due = rows ? ew_job_due_list(s->book, NULL, error) : NULL;
  (void)r;
  if (!due || !ew_job_today(s->book, today, error))
    return FALSE;
  ew_json_text(&reply->json, "today", today);
  ew_json_open_array(&reply->json, "jobs");
  for (guint i = 0; i < rows->len; i++) {
    g_autoptr(ew_job) job =
        ew_job_load(s->book, g_array_index(rows, struct ew_job_row, i).id, error);
    if (!job)
      return FALSE;
    ew_json_open(&reply->json, NULL);
    ew_job_write_short(job, today, &reply->json);
    ew_json_close(&reply->json);
  }
  ew_json_close_array(&reply->json);
  ew_json_rows(&reply->json, "due", due, write_due);
  return write_prices(s->book, &reply->json, error);
}

gboolean ew_api_customer_job(struct ew_service *s, const struct ew_request *r,
                             struct ew_reply *reply, GError **error) {
  char today[11];
  struct ew_desk desk = {0};
  g_autoptr(ew_job) job = ew_job_load(s->book, r->id, error);
  if (!job || !ew_job_today(s->book, today, error) || !ew_desk_open(&desk, s->book, error))
    return FALSE;
  gboolean good = ew_job_write(&desk, job, today, &reply->json, error);
  ew_desk_clear(&desk);
  return good;
}

static gboolean is_map(const struct ew_node *node, const char *name, GError **error) {
  return (node && node->kind == EW_NODE_MAP) || ew_refuse(error, "%s: give its fields", name);
}

gboolean ew_api_customer_job_new(struct ew_service *s, const struct ew_request *r,
                                 struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  const char *name = body ? ew_node_text(body, "name") : NULL;
  const struct ew_node *wish = body ? ew_node_member(body, "wish") : NULL;
  if (!body || !is_map(wish, "wish", error))
    return FALSE;
  gint64 id = ew_job_begin(s->book, name ? name : "", wish, WHERE, error);
  ew_json_integer(&reply->json, "job", id);
  reply->changed = id != 0;
  return id != 0;
}

/* [{"code": "oil", "quantity": "4.5"}] as a table would say it. */
static gboolean read_lines(const struct ew_node *list, GArray **lines, GError **error) {
  *lines = NULL;
  if (!list)
    return TRUE;
  if (list->kind != EW_NODE_LIST)
    return ew_refuse(error, "lines: give a list of code and quantity");
  if (list->children->len == 0)
    return TRUE;
  g_autoptr(GString) text = g_string_new("code,quantity\n");
  for (guint i = 0; i < list->children->len; i++) {
    const struct ew_node *one = list->children->pdata[i];
    const char *code = one->kind == EW_NODE_MAP ? ew_node_text(one, "code") : NULL,
               *quantity = one->kind == EW_NODE_MAP ? ew_node_text(one, "quantity") : NULL;
    if (!code || !quantity || strpbrk(code, "\"\r\n") || strpbrk(quantity, "\"\r\n"))
      return ew_refuse(error, "lines: give a list of code and quantity");
    g_string_append_printf(text, "\"%s\",\"%s\"\n", code, quantity);
  }
  *lines = ew_job_lines_read(text->str, text->len, "lines", EW_JOB_LINES_WANTED, NULL, error);
  return *lines != NULL;
}

static void write_kept(const struct ew_job_answer *a, enum ew_job_kind kind, struct ew_json *json) {
  ew_json_boolean(json, "added", a->ids->len > 0);
  ew_json_open_array(json, "ids");
  for (guint i = 0; i < a->ids->len; i++)
    ew_json_integer(json, NULL, g_array_index(a->ids, gint64, i));
  ew_json_close_array(json);
  ew_json_text(json, "kind", ew_job_kind_key(kind));
}

static gboolean keep_record(struct ew_service *s, const char *job, const struct ew_node *body,
                            struct ew_reply *reply, GError **error) {
  const struct ew_node *map = ew_node_member(body, "record");
  g_autoptr(GArray) lines = NULL;
  struct ew_job_answer answer;
  struct ew_job_ask ask = {.job = job,
                           .map = map,
                           .where = WHERE,
                           .sure = g_strcmp0(ew_node_text(body, "sure"), "yes") == 0};
  if (!ew_job_kind_find(ew_node_text(body, "kind"), &ask.kind) || ask.kind == EW_JOB_PRICES)
    return ew_refuse(error, "kind: give one of wish, quote, sent, agreed, change, engine, order, "
                            "come, hours, reminder, end, after");
  if (!is_map(map, "record", error) || !read_lines(ew_node_member(body, "lines"), &lines, error))
    return FALSE;
  ask.lines = lines;
  if (!ew_job_do(s->book, &ask, &answer, error))
    return FALSE;
  write_kept(&answer, ask.kind, &reply->json);
  reply->changed = answer.ids->len > 0;
  ew_job_answer_clear(&answer);
  return TRUE;
}

gboolean ew_api_customer_job_record(struct ew_service *s, const struct ew_request *r,
                                    struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autofree char *job = g_strdup_printf("%" G_GINT64_FORMAT, r->id);
  if (!body)
    return FALSE;
  if (g_strcmp0(ew_node_text(body, "kind"), "after") != 0)
    return keep_record(s, job, body, reply, error);
  const struct ew_node *map = ew_node_member(body, "record");
  if (!is_map(map, "record", error) || !ew_job_heard(s->book, job, map, WHERE, error))
    return FALSE;
  ew_json_boolean(&reply->json, "added", TRUE);
  ew_json_open_array(&reply->json, "ids");
  ew_json_close_array(&reply->json);
  ew_json_text(&reply->json, "kind", "after");
  reply->changed = TRUE;
  return TRUE;
}

gboolean ew_api_customer_job_withdraw(struct ew_service *s, const struct ew_request *r,
                                      struct ew_reply *reply, GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  if (!body || !ew_job_take_back(s->book, r->id, ew_node_text(body, "why"), error))
    return FALSE;
  reply->changed = TRUE;
  return TRUE;
}

/* ---- the price table ---- */

gboolean ew_api_prices(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  g_autoptr(ew_job) shop = ew_job_load(s->book, 0, error);
  const struct ew_job_prices *p = shop ? ew_job_prices_now(shop) : NULL;
  (void)r;
  if (!p)
    return shop && ew_refuse(error, "there is no price table yet");
  char *text = ew_job_prices_write(p->mark.lines, p->currency);
  reply->bytes = g_bytes_new_take(text, strlen(text));
  reply->type = "text/csv; charset=utf-8";
  reply->inert = TRUE;
  reply->download = g_strdup_printf("prices-%d.csv", p->version);
  return TRUE;
}

/* The whole table, with the currency beside it where the table has no such column. */
static gboolean read_prices(const struct ew_node *body, struct ew_job_ask *ask, GArray **lines,
                            struct ew_node *map, GError **error) {
  const char *table = ew_node_text(body, "table"), *asked = ew_node_text(body, "currency");
  g_autofree char *in_table = NULL;
  if (!table)
    return ew_refuse(error, "table: not given; it has the columns code, name, price");
  *lines =
      ew_job_lines_read(table, strlen(table), ask->where, EW_JOB_LINES_PRICES, &in_table, error);
  if (!*lines)
    return FALSE;
  if (asked && *asked && in_table && strcmp(asked, in_table) != 0)
    return ew_refuse(error, "currency '%.20s', and the table says '%.20s'", asked, in_table);
  ew_node_put(map, "currency", in_table ? in_table : asked);
  ask->lines = *lines;
  return TRUE;
}

gboolean ew_api_prices_new(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error), map = ew_node_new_map();
  const char *name = body ? ew_node_text(body, "name") : NULL;
  g_autoptr(GArray) lines = NULL;
  struct ew_job_answer answer;
  struct ew_job_ask ask = {.kind = EW_JOB_PRICES,
                           .map = map,
                           .where = name && *name ? name : "table",
                           .sure = body && g_strcmp0(ew_node_text(body, "sure"), "yes") == 0};
  if (!body || !read_prices(body, &ask, &lines, map, error) ||
      !ew_job_do(s->book, &ask, &answer, error))
    return FALSE;
  write_kept(&answer, ask.kind, &reply->json);
  reply->changed = answer.ids->len > 0;
  ew_job_answer_clear(&answer);
  return TRUE;
}

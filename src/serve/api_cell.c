/* The cell's record, from the page: inertias, arm, the absorber's plate. It holds for pulls to come; those that were run with a wrong one
 * are listed, and amended when that is meant, as a job: each pull is computed again from raw, with progress, and can be stopped; the same
 * request goes on with the rest. */
#include "base/error.h"
#include "book/keep.h"
#include "desk/add.h"
#include "desk/amend.h"
#include "desk/cell_record.h"
#include "desk/sets.h"
#include "serve/predict_question.h"
#include "serve/predictor.h"
#include "serve/service.h"
#include <string.h>

gboolean ew_api_cell(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                     GError **error) {
  struct ew_desk desk = {0};
  (void)r;
  if (!ew_desk_open(&desk, s->book, error)) {
    ew_desk_clear(&desk);
    return FALSE;
  }
  ew_json_open_array(&reply->json, "groups");
  ew_service_write_fields("cell", "Cell", &ew_bench_fields, &reply->json);
  ew_json_close_array(&reply->json);
  ew_json_open(&reply->json, "typed");
  for (gsize i = 0; i < ew_bench_fields.count; i++) {
    g_autofree char *value = ew_field_typed(&ew_bench_fields.fields[i], &desk.bench);
    if (value)
      ew_json_text(&reply->json, ew_bench_fields.fields[i].name, value);
  }
  ew_json_close(&reply->json);
  ew_cell_right_json(&desk, &reply->json);
  ew_desk_clear(&desk);
  return TRUE;
}

/* "arm=400 mm" of each that is typed; NULL with *error. */
static char **sets_of(const ew_node *body, GError **error) {
  const struct ew_node *typed = ew_node_member(body, "typed");
  if (!typed || typed->kind != EW_NODE_MAP || typed->children->len == 0) {
    ew_refuse(error, "typed: write {\"arm\": \"400 mm\"}");
    return NULL;
  }
  g_autoptr(GPtrArray) sets = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < typed->children->len; i++) {
    const struct ew_node *one = typed->children->pdata[i];
    if (!one->text) {
      ew_refuse(error, "typed: '%.40s' needs a text, for example \"400 mm\"", one->key);
      return NULL;
    }
    g_ptr_array_add(sets, g_strdup_printf("%s=%s", one->key, one->text));
  }
  g_ptr_array_add(sets, NULL);
  return (char **)g_ptr_array_free(g_steal_pointer(&sets), FALSE);
}

/* One by one: the refusal names the field, and the page says it there. */
static gboolean apply_each(struct ew_desk *desk, char *const *sets, GError **error) {
  for (; *sets; sets++) {
    const char *const one[] = {*sets, NULL};
    if (ew_apply_record_sets(&ew_bench_fields, &desk->bench, one, error))
      continue;
    g_autofree char *key = g_strndup(*sets, strcspn(*sets, "="));
    ew_error_at_field(error, key);
    return FALSE;
  }
  return TRUE;
}

gboolean ew_api_cell_put(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                         GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_auto(GStrv) sets = body ? sets_of(body, error) : NULL;
  gboolean good = sets && ew_desk_open(&desk, s->book, error) && apply_each(&desk, sets, error);
  g_autofree char *yaml = good ? ew_fields_write_yaml(&ew_bench_fields, &desk.bench) : NULL;
  const struct ew_setting one = {.key = "cell", .value = yaml};
  good = good && ew_keep_settings(s->book, &one, 1, error);
  ew_desk_clear(&desk);
  reply->changed = good;
  return good;
}

/* ---- its inertia is right ---- */

gboolean ew_api_cell_right(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  struct ew_desk desk = {0};
  g_autoptr(ew_node) body = ew_request_json(r, error);
  g_autoptr(GArray) released = g_array_new(FALSE, FALSE, sizeof(gint64));
  gboolean back = body && ew_node_member(body, "take_back") != NULL;
  gboolean good = body && ew_desk_open(&desk, s->book, error) &&
                  (back ? ew_cell_unsay_right(s->book, error)
                        : ew_cell_say_right(&desk, ew_node_text(body, "how"),
                                            ew_node_text(body, "who"), released, error));
  if (good) {
    ew_cell_right_json(&desk, &reply->json);
    ew_json_open_array(&reply->json, "released");
    for (guint i = 0; i < released->len; i++)
      ew_json_integer(&reply->json, NULL, g_array_index(released, gint64, i));
    ew_json_close_array(&reply->json);
  }
  ew_desk_clear(&desk);
  reply->changed = good;
  return good;
}

/* ---- it was wrong ---- */

struct asked {
  char *path, *reason, *who;
  char **sets;
  gboolean sure;
  enum ew_unit_system units;
};

static void asked_free(gpointer data) {
  struct asked *a = data;
  g_free(a->path);
  g_free(a->reason);
  g_free(a->who);
  g_strfreev(a->sets);
  g_free(a);
}

/* `concerned`: `pull` and `changes`, a text, of each. Their numbers are given back. NULL with *error. */
static GArray *write_concerned(struct ew_book *book, const struct asked *a, struct ew_json *json,
                               GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) all = ew_pulls_since(book, 0, 0, &problem);
  const char *const *sets = (const char *const *)a->sets;
  g_autoptr(GArray) found = problem ? NULL : ew_cell_concerned(book, all, sets, error);
  if (problem)
    g_propagate_error(error, g_steal_pointer(&problem));
  if (!found)
    return NULL;
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  ew_json_open_array(json, "concerned");
  for (guint i = 0; i < found->len; i++) {
    const struct ew_cell_change *one = &g_array_index(found, struct ew_cell_change, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "pull", one->pull_id);
    ew_messages_write_json(one->changes, "changes", a->units, json);
    ew_json_close(json);
    g_array_append_val(ids, one->pull_id);
  }
  ew_json_close_array(json);
  return ids;
}

/* The rest is as it was when it is stopped: what is amended stays so. */
static gboolean amend_them(const struct ew_desk *desk, const struct asked *a, const GArray *ids,
                           const struct ew_job_run *run, struct ew_json *json, GError **error) {
  const char *const *sets = (const char *const *)a->sets;
  const struct ew_amend_ask ask = {.pulls = (const gint64 *)(const void *)ids->data,
                                   .pulls_count = ids->len,
                                   .cell_sets = sets,
                                   .who = a->who,
                                   .reason = a->reason,
                                   .progress = run->progress,
                                   .progress_data = run->progress_data,
                                   .cancel = run->cancel};
  struct ew_amended amended;
  if (!ew_cell_keep(desk, sets, error))
    return FALSE;
  guint done = 0;
  gboolean stopped = FALSE;
  if (ids->len) {
    if (!ew_amend(desk, &ask, &amended, error))
      return FALSE;
    done = amended.rows->len;
    stopped = amended.stopped;
    ew_amended_clear(&amended);
  }
  ew_json_integer(json, "amended", done);
  ew_json_boolean(json, "stopped", stopped);
  return TRUE;
}

/* In the lane's thread, with a connection of its own. */
static gboolean run_amend(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                          GError **error) {
  const struct asked *a = data;
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = ew_book_open(a->path, FALSE, error);
  g_autoptr(GArray) ids = book ? write_concerned(book, a, json, error) : NULL;
  gboolean good = ids && ew_desk_open(&desk, book, error) &&
                  (!a->sure || amend_them(&desk, a, ids, run, json, error));
  ew_desk_clear(&desk);
  return good;
}

static gboolean check_asked(struct ew_service *s, const struct asked *a, GError **error) {
  struct ew_desk desk = {0};
  const char *reason = a->reason;
  gboolean good =
      ew_desk_open(&desk, s->book, error) &&
      ew_apply_record_sets(&ew_bench_fields, &desk.bench, (const char *const *)a->sets, error) &&
      ((reason && strspn(reason, " \t") < strlen(reason) && strlen(reason) <= 400) ||
       ew_refuse(error, "reason: say in a few words why (400 bytes at most); an "
                        "amendment is kept with its reason"));
  ew_desk_clear(&desk);
  return good;
}

gboolean ew_api_cell_amend(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                           GError **error) {
  g_autoptr(ew_node) body = ew_request_json(r, error);
  struct asked *a = g_new0(struct asked, 1);
  a->sets = body ? sets_of(body, error) : NULL;
  a->path = g_strdup(ew_book_path(s->book));
  a->units = ew_service_units(s, r);
  a->sure = body && g_strcmp0(ew_node_text(body, "sure"), "yes") == 0;
  a->reason = g_strdup(body ? ew_node_text(body, "reason") : NULL);
  a->who = g_strdup(body ? ew_node_text(body, "who") : NULL);
  if (!a->sets || !check_asked(s, a, error)) {
    asked_free(a);
    return FALSE;
  }
  struct ew_job_work work = {
      .kind = "cell amend",
      .lane = EW_LANE_LONG,
      .run = run_amend,
      .data = a,
      .free = asked_free,
      .instead = EW_TEXT("not done within 10 minutes: what is amended stays so; ask "
                         "again, and it goes on with the rest, or use 'enginewright cell "
                         "amend', which has no limit")};
  gint64 id = ew_predictor_start(s->predictor, ew_predict_device(r), "cell-amend", &work, error);
  ew_json_integer(&reply->json, "job", id);
  return id != 0;
}

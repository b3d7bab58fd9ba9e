/* The way from stored raw to a curve again, with the method, cell, engine and set-up that the curve was stored with.
 * When this program finds other pulls in the recording, the one that shares most time with the stored curve is
 * meant. */
#include "book/recompute.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "book/curve_blob.h"
#include "book/sql.h"
#include <math.h>
#include <string.h>

gboolean ew_record_from_yaml(const struct ew_fields *table, const char *what, const char *yaml,
                             void *record, GError **error) {
  if (!yaml || !*yaml) {
    memset(record, 0, table->size);
    ew_fields_defaults(table, record);
    return TRUE;
  }
  g_autoptr(ew_node) root = ew_node_parse(what, yaml, strlen(yaml), error);
  return root && ew_fields_read(table, root, what, NULL, record, error);
}

struct ew_reduce_facts ew_recomputed_facts(const struct ew_recomputed *a) {
  return (struct ew_reduce_facts){&a->method, &a->bench, &a->engine, &a->setup, a->calibration};
}

const struct ew_curve *ew_recomputed_curve(const struct ew_recomputed *a) {
  g_assert(a->processed && a->part < a->processed->curves->len);
  return g_ptr_array_index(a->processed->curves, a->part);
}

static gboolean read_records(const struct ew_curve_row *curve, struct ew_recomputed *a,
                             GError **error) {
  g_autoptr(ew_node) engine =
      *curve->engine ? ew_node_parse("engine", curve->engine, strlen(curve->engine), error) : NULL;
  if (*curve->engine && !engine)
    return FALSE;
  if (!engine)
    ew_engine_defaults(&a->engine);
  else if (!ew_engine_read(engine, "engine", &a->engine, error))
    return FALSE;
  return ew_record_from_yaml(&ew_method_fields, "method", curve->method, &a->method, error) &&
         ew_record_from_yaml(&ew_bench_fields, "cell", curve->cell, &a->bench, error) &&
         ew_record_from_yaml(&ew_setup_fields, "set-up", a->pull.setup, &a->setup, error) &&
         ew_calibrated_parse(curve->calibration, &a->calibration, error);
}

/* Of the pulls found now, the one that shares most time with the curve as it was stored; their number when none
 * does. A curve that cannot be read has the place it was stored with. */
static guint part_of(const struct ew_recomputed *a, const struct ew_curve_row *row) {
  gsize size;
  const void *bytes = g_bytes_get_data(row->bytes, &size);
  struct ew_curve *then = ew_curve_from_bytes(bytes, size);
  guint best = then ? a->processed->curves->len : (guint)a->pull.part;
  double most = 0;
  for (guint i = 0; then && i < a->processed->curves->len; i++) {
    const struct ew_curve *now = g_ptr_array_index(a->processed->curves, i);
    double shared = fmin(now->end_s, then->end_s) - fmax(now->start_s, then->start_s);
    if ((a->match || now->kind == then->kind) && shared > most)
      most = shared, best = i;
  }
  ew_curve_free(then);
  return best;
}

/* *moved: the recording does not give as many pulls as it has, or this one is not among them. */
static gboolean is_as_many(struct ew_book *book, const struct ew_recomputed *a, gboolean *moved,
                           GError **error) {
  gint64 count;
  if (!ew_sql_number(ew_book_port(book), &count, error,
                     "SELECT count(*) FROM pull WHERE recording_id = ? AND part >= 0", "i",
                     a->pull.recording_id))
    return FALSE;
  *moved = a->pull.part < 0 || count != (gint64)a->processed->curves->len;
  return TRUE;
}

static gboolean process(struct ew_book *book, struct ew_recomputed *a,
                        const struct ew_curve_row *row, GError **error) {
  const char *yaml = a->recording.channel_map;
  g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), error) : NULL;
  struct ew_channel_map *map = root ? ew_channel_map_read(root, "channel map", error) : NULL;
  if (yaml && !map)
    return FALSE;
  struct ew_reduce_facts facts = ew_recomputed_facts(a);
  a->processed = ew_recording_process(&a->recording, map, &facts, error);
  ew_channel_map_free(map);
  if (!a->processed)
    return FALSE;
  g_assert(a->processed->curves->len > 0 || a->processed->why_none);
  gboolean moved = ew_curve_is_earlier(row);
  if (a->match && !moved && !is_as_many(book, a, &moved, error))
    return FALSE;
  a->part = moved ? part_of(a, row) : (guint)a->pull.part;
  a->gone = a->part >= a->processed->curves->len;
  if (!a->gone ||
      a->match) /* records that are being corrected may leave it no pull: who corrects them decides */
    return TRUE;
  if (!a->processed->why_none)
    return ew_refuse(error, "no pull of the recording is where an earlier version of the program "
                            "found this one");
  g_autofree char *why = ew_message_text(a->processed->why_none, EW_UNITS_SI);
  return ew_refuse(error,
                   "no pull of the recording is where an earlier version of the program found this "
                   "one: %s",
                   why);
}

gboolean ew_recompute_altered(struct ew_book *book, gint64 pull_id, ew_alter_records alter,
                              gpointer user, struct ew_recomputed *a, GError **error) {
  memset(a, 0, sizeof *a);
  struct ew_curve_row curve = {0};
  gboolean good = ew_pull_get(book, pull_id, &a->pull, error) &&
                  ew_recording_get(book, a->pull.recording_id, &a->recording, error) &&
                  ew_curve_get(book, pull_id, &curve, error) && read_records(&curve, a, error);
  good = good && (!alter || alter(a, user, error)) && process(book, a, &curve, error);
  ew_curve_row_clear(&curve);
  if (!good)
    ew_recomputed_clear(a); /* but for `gone` */
  return good;
}

static gboolean take_method(struct ew_recomputed *a, gpointer user, GError **error) {
  (void)error;
  if (user)
    a->method = *(const struct ew_method *)user;
  return TRUE;
}

gboolean ew_recompute_by(struct ew_book *book, gint64 pull_id, const struct ew_method *method,
                         struct ew_recomputed *a, GError **error) {
  return ew_recompute_altered(book, pull_id, take_method, ew_as_pointer(method), a, error);
}

gboolean ew_recompute(struct ew_book *book, gint64 pull_id, struct ew_recomputed *a,
                      GError **error) {
  return ew_recompute_by(book, pull_id, NULL, a, error);
}

void ew_recomputed_clear(struct ew_recomputed *a) {
  ew_recording_row_clear(&a->recording);
  ew_pull_row_clear(&a->pull);
  ew_fields_clear(&ew_bench_fields, &a->bench);
  ew_engine_clear(&a->engine);
  ew_setup_clear(&a->setup);
  g_clear_pointer(&a->calibration, ew_calibrated_free);
  ew_processed_free(a->processed);
  a->processed = NULL;
}

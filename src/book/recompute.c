#include "book/recompute.h"
#include "base/error.h"
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
  return (struct ew_reduce_facts){&a->method, &a->bench, &a->engine, &a->setup};
}

const struct ew_curve *ew_recomputed_curve(const struct ew_recomputed *a) {
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
         ew_record_from_yaml(&ew_setup_fields, "set-up", a->pull.setup, &a->setup, error);
}

static gboolean process(struct ew_recomputed *a, GError **error) {
  const char *yaml = a->recording.channel_map;
  g_autoptr(ew_node) root = yaml ? ew_node_parse("channel map", yaml, strlen(yaml), error) : NULL;
  struct ew_channel_map *map = root ? ew_channel_map_read(root, "channel map", error) : NULL;
  if (yaml && !map)
    return FALSE;
  struct ew_reduce_facts facts = ew_recomputed_facts(a);
  gsize size;
  const void *bytes = g_bytes_get_data(a->recording.bytes, &size);
  a->processed = ew_process(bytes, size, a->recording.name, map, &facts, error);
  ew_channel_map_free(map);
  a->part = (guint)a->pull.part;
  if (a->processed && a->part >= a->processed->curves->len)
    return ew_refuse(error, "the recording no longer holds this pull");
  return a->processed != NULL;
}

gboolean ew_recompute_by(struct ew_book *book, gint64 pull_id, const struct ew_method *method,
                         struct ew_recomputed *a, GError **error) {
  memset(a, 0, sizeof *a);
  struct ew_curve_row curve = {0};
  gboolean good = ew_pull_get(book, pull_id, &a->pull, error) &&
                  ew_recording_get(book, a->pull.recording_id, &a->recording, error) &&
                  ew_curve_get(book, pull_id, &curve, error) && read_records(&curve, a, error);
  if (good && method)
    a->method = *method;
  good = good && process(a, error);
  ew_curve_row_clear(&curve);
  if (!good)
    ew_recomputed_clear(a);
  return good;
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
  ew_processed_free(a->processed);
  a->processed = NULL;
}

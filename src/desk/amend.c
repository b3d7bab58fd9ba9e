/* Amendments by recording: who else of it is amended, what is lost and what is found besides, one transaction each. */
#include "base/error.h"
#include "book/curve_blob.h"
#include "desk/add.h"
#include "desk/amend_parts.h"
#include <math.h>
#include <string.h>

struct company { /* pulls of one recording that are amended together */
  gint64 recording_id;
  GArray *pulls; /* gint64 */
};

static void company_clear(struct company *c) {
  g_array_unref(c->pulls);
}

static void row_clear(struct ew_amended_row *row) {
  g_clear_pointer(&row->changes, g_ptr_array_unref);
}

void ew_amended_clear(struct ew_amended *a) {
  g_clear_pointer(&a->rows, g_array_unref);
  g_clear_pointer(&a->added, g_array_unref);
  g_clear_pointer(&a->answers, g_array_unref);
}

/* ---- is it a request? ---- */

static gboolean asks_anything(const struct ew_amend_ask *ask) {
  return (ask->sets && ask->sets[0]) || (ask->units && ask->units[0]) ||
         (ask->cell_sets && ask->cell_sets[0]) || ask->changed || ask->purpose || ask->at ||
         ask->engine || ask->map || ask->method;
}

static gboolean check_records(const struct ew_amend_ask *ask, GError **error) {
  struct ew_setup setup = {0};
  struct ew_bench bench = {0};
  ew_setup_defaults(&setup);
  ew_bench_defaults(&bench);
  gboolean good = ew_apply_sets(&setup, ask->sets, error) &&
                  ew_apply_record_sets(&ew_bench_fields, &bench, ask->cell_sets, error);
  ew_setup_clear(&setup);
  ew_fields_clear(&ew_bench_fields, &bench);
  return good;
}

static gboolean check_map(const char *map, GError **error) {
  if (!map || !*map)
    return TRUE;
  g_autoptr(ew_node) root = ew_node_parse("channel map", map, strlen(map), error);
  struct ew_channel_map *read = root ? ew_channel_map_read(root, "channel map", error) : NULL;
  ew_channel_map_free(read);
  return read != NULL;
}

static gboolean check_engine(const struct ew_desk *desk, const char *name, GError **error) {
  struct ew_engine_row row = {0};
  gboolean good = !name || ew_engine_get(desk->book, name, &row, error);
  ew_engine_row_clear(&row);
  return good;
}

gboolean ew_amend_check(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                        GError **error) {
  const char *p = ask->purpose;
  if (ask->undo && asks_anything(ask))
    return ew_refuse(error, "--undo takes back the last amendment; give nothing else with it but "
                            "the reason");
  if (!ask->undo && !asks_anything(ask))
    return ew_refuse(error, "say what was wrong, for example --set \"pressure=985 hPa\", --units "
                            "torque=lb-ft, --engine NAME, --at TIME, or --undo");
  if (!ask->reason || strspn(ask->reason, " \t\r\n") == strlen(ask->reason))
    return ew_refuse(error,
                     "--reason: say in a few words why; an amendment is kept with its reason");
  if (ask->pulls_count == 0)
    return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "which pull? Give its number");
  if (p && strcmp(p, "pull") != 0 && strcmp(p, "heat") != 0 && strcmp(p, "break-in") != 0)
    return ew_refuse(error, "--purpose '%s' is not one of pull, heat, break-in", p);
  if (ask->at && isnan(ew_time_parse(ask->at)))
    return ew_refuse(error, "--at '%s' is not a time; write, for example, 2026-06-12T14:30:00Z",
                     ask->at);
  if (ask->seen && ask->pulls_count != 1)
    return ew_refuse(error, "name the reading of one pull only");
  return check_records(ask, error) && check_map(ask->map, error) &&
         check_engine(desk, ask->engine, error);
}

/* ---- who is amended together ---- */

/* What holds for a whole recording? */
static gboolean is_wide(const struct ew_amend_ask *ask) {
  return (ask->units && ask->units[0]) || ask->map || ask->at || ask->engine;
}

static gboolean is_another(gint64 before, gint64 now) {
  return before != now;
}

static gboolean is_wide_undo(const struct ew_desk *desk, const struct ew_pull_row *row,
                             gboolean *wide, GError **error) {
  struct ew_recording_row recording;
  struct ew_former_row f;
  *wide = FALSE;
  if (row->reading < 2)
    return ew_refuse(error, "pull %lld was never amended: there is nothing to take back",
                     (long long)row->id);
  if (!ew_former_get(desk->book, row->id, row->reading - 1, &f, error))
    return FALSE;
  gboolean good = ew_recording_get(desk->book, row->recording_id, &recording, error);
  *wide = good && (g_strcmp0(f.channel_map, recording.channel_map) != 0 ||
                   g_strcmp0(f.measured_at, recording.measured_at) != 0 ||
                   is_another(f.pull.engine_id, row->engine_id));
  if (good)
    ew_recording_row_clear(&recording);
  ew_former_row_clear(&f);
  return good;
}

static struct company *company_of(GArray *companies, gint64 recording_id) {
  for (guint i = companies->len; i-- > 0;)
    if (g_array_index(companies, struct company, i).recording_id == recording_id)
      return &g_array_index(companies, struct company, i);
  struct company new = {recording_id, g_array_new(FALSE, FALSE, sizeof(gint64))};
  g_array_append_val(companies, new);
  return &g_array_index(companies, struct company, companies->len - 1);
}

static void join(struct company *c, gint64 id) {
  for (guint i = 0; i < c->pulls->len; i++)
    if (g_array_index(c->pulls, gint64, i) == id)
      return;
  g_array_append_val(c->pulls, id);
}

/* The pull asked for, and all of its recording where that is said of it. O(pulls of the book) for the latter. */
static gboolean join_one(const struct ew_desk *desk, const struct ew_amend_ask *ask, gint64 id,
                         const GArray *all, GArray *companies, GError **error) {
  struct ew_pull_row row;
  gboolean wide = is_wide(ask);
  if (!ew_pull_get(desk->book, id, &row, error))
    return FALSE;
  gboolean good = !ask->undo || is_wide_undo(desk, &row, &wide, error);
  if (good)
    join(company_of(companies, row.recording_id), id);
  for (guint i = 0; good && wide && i < all->len; i++) {
    const struct ew_pull_row *other = &g_array_index(all, struct ew_pull_row, i);
    if (other->recording_id == row.recording_id)
      join(company_of(companies, row.recording_id), other->id);
  }
  ew_pull_row_clear(&row);
  return good;
}

/* All of them are there before the first is touched. */
static GArray *gather(const struct ew_desk *desk, const struct ew_amend_ask *ask, GError **error) {
  GError *problem = NULL;
  GArray *companies = g_array_new(FALSE, FALSE, sizeof(struct company));
  g_array_set_clear_func(companies, (GDestroyNotify)company_clear);
  g_autoptr(GArray) all = ew_pull_list(desk->book, 0, &problem);
  for (gsize i = 0; !problem && i < ask->pulls_count; i++)
    join_one(desk, ask, ask->pulls[i], all, companies, &problem);
  if (!problem)
    return companies;
  g_array_unref(companies);
  g_propagate_error(error, problem);
  return NULL;
}

/* ---- one recording ---- */

struct amending_all {
  GArray *ones; /* struct ew_amending */
  struct ew_recording_row recording;
  struct ew_processed *processed; /* of the last that was computed */
  guint already, found;
};

static void all_clear(struct amending_all *all) {
  g_array_unref(all->ones);
  ew_recording_row_clear(&all->recording);
  ew_processed_free(all->processed);
}

static gboolean make_all(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                         const struct company *c, struct amending_all *all, GError **error) {
  g_autoptr(GHashTable) taken = g_hash_table_new(NULL, NULL);
  for (guint i = 0; i < c->pulls->len; i++) {
    struct ew_amending one;
    struct ew_processed *processed = NULL;
    gboolean same;
    gboolean good = ew_amending_of(desk, ask, g_array_index(c->pulls, gint64, i), taken, &one,
                                   &all->recording, &processed, &same, error);
    if (good && !same) {
      ew_processed_free(all->processed);
      all->processed = processed;
      all->found += !one.gone;
      g_array_append_val(all->ones, one);
    } else {
      ew_amending_clear(&one);
      ew_processed_free(processed);
      all->already += same;
    }
    if (!good)
      return FALSE;
  }
  return TRUE;
}

/* Pulls that the new reading finds besides, told the same as the first. */
static GArray *found_besides(const struct ew_amend_ask *ask, const struct amending_all *all,
                             const struct company *c, GError **error) {
  GArray *more = g_array_new(FALSE, FALSE, sizeof(struct ew_new_pull));
  const struct ew_amending *first = &g_array_index(all->ones, struct ew_amending, 0);
  gboolean wide = (ask->units && ask->units[0]) || ask->map;
  for (guint part = 0; wide && part < all->processed->curves->len; part++) {
    gboolean taken = FALSE;
    for (guint i = 0; i < all->ones->len; i++)
      taken |= g_array_index(all->ones, struct ew_amending, i).row.part == (int)part;
    if (taken)
      continue;
    const struct ew_curve *curve = g_ptr_array_index(all->processed->curves, part);
    struct ew_new_pull pull = {.row = first->row, .curve = first->curve};
    pull.row.recording_id = c->recording_id;
    pull.row.part = (int)part;
    pull.row.discarded = NULL;
    pull.row.kind = (char *)(gsize)ew_segment_kind_names[curve->kind];
    pull.row.top_rpm = curve->high_rpm;
    pull.row.band_mean_n_m = curve->band_mean_n_m;
    pull.curve.bytes = ew_curve_to_bytes(curve);
    pull.curve.digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, pull.curve.bytes);
    g_array_append_val(more, pull);
    if (!ew_curve_has_bytes(curve, pull.curve.bytes))
      ew_fail(error, "part %u of the recording gives a curve that cannot be stored", part + 1);
  }
  return more;
}

static void besides_free(GArray *more) {
  for (guint i = 0; i < more->len; i++) {
    struct ew_new_pull *pull = &g_array_index(more, struct ew_new_pull, i);
    g_bytes_unref(pull->curve.bytes);
    g_free(pull->curve.digest);
  }
  g_array_unref(more);
}

static void take_rows(struct amending_all *all, const GArray *ids, struct ew_amended *amended) {
  for (guint i = 0; i < all->ones->len; i++) {
    struct ew_amending *one = &g_array_index(all->ones, struct ew_amending, i);
    struct ew_amended_row row = {.pull_id = one->id,
                                 .reading = one->row.reading + 1,
                                 .amendment = g_array_index(ids, gint64, i),
                                 .before_n_m = one->before_n_m,
                                 .after_n_m = one->gone ? (double)NAN : one->row.band_mean_n_m,
                                 .changes = g_steal_pointer(&one->changes)};
    g_array_append_val(amended->rows, row);
  }
}

static gboolean keep_all(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                         struct amending_all *all, const GArray *more, struct ew_amended *amended,
                         GError **error) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autofree struct ew_amended_pull *pulls = g_new0(struct ew_amended_pull, all->ones->len);
  for (guint i = 0; i < all->ones->len; i++) {
    const struct ew_amending *one = &g_array_index(all->ones, struct ew_amending, i);
    pulls[i] = (struct ew_amended_pull){.row = &one->row,
                                        .curve = &one->curve,
                                        .changes = one->changes,
                                        .undoes = one->undoes,
                                        .discard = one->discard};
  }
  const struct ew_new_amendment n = {.pulls = pulls,
                                     .pulls_count = all->ones->len,
                                     .recording = &all->recording,
                                     .more = (const struct ew_new_pull *)(const void *)more->data,
                                     .more_count = more->len,
                                     .who = ask->who,
                                     .reason = ask->reason};
  if (!ew_keep_amendment(desk->book, &n, ids, amended->added, error))
    return FALSE;
  take_rows(all, ids, amended);
  return TRUE;
}

/* A reading that finds no pull at all is none. */
static gboolean check_found(const struct amending_all *all, GError **error) {
  if (all->found > 0 || all->processed->curves->len > 0)
    return TRUE;
  g_autofree char *why =
      all->processed->why_none ? ew_message_text(all->processed->why_none, EW_UNITS_SI) : NULL;
  return ew_refuse(error, "%s: read like this no pull is found in it: %s", all->recording.name,
                   why ? why : "-");
}

static gboolean amend_recording(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                                const struct company *c, struct ew_amended *amended,
                                GError **error) {
  struct amending_all all = {.ones = g_array_new(FALSE, FALSE, sizeof(struct ew_amending))};
  g_array_set_clear_func(all.ones, (GDestroyNotify)ew_amending_clear);
  gboolean good = make_all(desk, ask, c, &all, error);
  amended->already += all.already;
  if (good && all.ones->len > 0) {
    GError *problem = NULL;
    GArray *more = NULL;
    if (check_found(&all, &problem)) {
      more = found_besides(ask, &all, c, &problem);
      if (!problem)
        keep_all(desk, ask, &all, more, amended, &problem);
      besides_free(more);
    }
    good = problem == NULL;
    if (problem)
      g_propagate_error(error, problem);
  }
  all_clear(&all);
  return good;
}

/* ---- all of them ---- */

static gboolean asks_about(const struct ew_verdict_row *row, const struct ew_amended *amended) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  ew_asked_read(row->pulls, ids, ids);
  for (guint i = 0; i < ids->len; i++)
    for (guint k = 0; k < amended->rows->len; k++)
      if (g_array_index(amended->rows, struct ew_amended_row, k).pull_id ==
          g_array_index(ids, gint64, i))
        return TRUE;
  return FALSE;
}

static GArray *list_answers(const struct ew_desk *desk, GError **error) {
  GError *problem = NULL;
  GArray *rows = ew_verdict_list(desk->book, 0, &problem);
  if (!problem)
    return rows;
  g_propagate_error(error, problem);
  g_clear_pointer(&rows, g_array_unref);
  return NULL;
}

/* Of those that were in the book before: each about a pull that is amended now is on an earlier reading. Nothing is read for it
 * any more: what is stored is not told as refused because of a list. */
static void find_answers(const GArray *before, struct ew_amended *amended) {
  for (guint i = 0; i < before->len; i++) {
    const struct ew_verdict_row *row = &g_array_index(before, struct ew_verdict_row, i);
    if (asks_about(row, amended))
      g_array_append_val(amended->answers, row->id);
  }
}

gboolean ew_amend(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                  struct ew_amended *amended, GError **error) {
  *amended = (struct ew_amended){.rows = g_array_new(FALSE, FALSE, sizeof(struct ew_amended_row)),
                                 .added = g_array_new(FALSE, FALSE, sizeof(gint64)),
                                 .answers = g_array_new(FALSE, FALSE, sizeof(gint64))};
  g_array_set_clear_func(amended->rows, (GDestroyNotify)row_clear);
  g_autoptr(GArray) companies = ew_amend_check(desk, ask, error) ? gather(desk, ask, error) : NULL;
  g_autoptr(GArray) answers = companies ? list_answers(desk, error) : NULL;
  gboolean good = answers != NULL;
  struct ew_steps steps = {ask->progress, ask->progress_data, 0, good ? companies->len : 0};
  for (guint i = 0; good && !amended->stopped && i < companies->len; i++) {
    amended->stopped = ask->cancel && g_atomic_int_get(ask->cancel);
    good = amended->stopped ||
           amend_recording(desk, ask, &g_array_index(companies, struct company, i), amended, error);
    ew_step(&steps);
  }
  if (good)
    find_answers(answers, amended);
  else
    ew_amended_clear(amended);
  return good;
}

void ew_amended_json(const struct ew_amended *a, struct ew_json *json) {
  ew_json_open_array(json, "pulls");
  for (guint i = 0; i < a->rows->len; i++) {
    const struct ew_amended_row *row = &g_array_index(a->rows, struct ew_amended_row, i);
    ew_json_open(json, NULL);
    ew_json_integer(json, "id", row->pull_id);
    ew_json_integer(json, "reading", row->reading);
    ew_json_integer(json, "amendment", row->amendment);
    ew_json_number(json, "band_mean_torque_before_n_m", row->before_n_m);
    ew_json_number(json, "band_mean_torque_n_m", row->after_n_m);
    ew_messages_write_json(row->changes, "changes", EW_UNITS_SI, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_open_array(json, "added");
  for (guint i = 0; i < a->added->len; i++)
    ew_json_integer(json, NULL, g_array_index(a->added, gint64, i));
  ew_json_close_array(json);
  ew_json_integer(json, "already", a->already);
  ew_json_open_array(json, "answers_on_an_earlier_reading");
  for (guint i = 0; i < a->answers->len; i++)
    ew_json_integer(json, NULL, g_array_index(a->answers, gint64, i));
  ew_json_close_array(json);
  ew_json_boolean(json, "stopped", a->stopped);
}

GArray *ew_pulls_since(struct ew_book *book, gint64 since, gint64 engine_id, GError **error) {
  g_autoptr(GArray) rows = ew_pull_list(book, engine_id, error);
  if (!rows)
    return NULL;
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; i < rows->len; i++) {
    gint64 id = g_array_index(rows, struct ew_pull_row, i).id;
    if (id >= since)
      g_array_append_val(ids, id);
  }
  return ids;
}

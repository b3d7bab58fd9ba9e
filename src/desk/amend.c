/* A request of amendment: is it one, which recordings it is about, one after another; and which answers it puts on an earlier
 * reading. */
#include "base/error.h"
#include "base/zone.h"
#include "desk/add.h"
#include "desk/amend_parts.h"
#include "desk/amend_told.h"
#include "desk/when.h"
#include "desk/sets.h"
#include <math.h>
#include <string.h>

static void company_clear(struct ew_amend_company *c) {
  g_array_unref(c->pulls);
}

static void row_clear(struct ew_amended_row *row) {
  g_clear_pointer(&row->changes, g_ptr_array_unref);
}

void ew_amended_clear(struct ew_amended *a) {
  g_clear_pointer(&a->rows, g_array_unref);
  g_clear_pointer(&a->added, g_array_unref);
  g_clear_pointer(&a->held, g_array_unref);
  g_clear_pointer(&a->notes, g_ptr_array_unref);
  g_clear_pointer(&a->answers, g_array_unref);
}

/* ---- is it a request? ---- */

static gboolean asks_anything(const struct ew_amend_ask *ask) {
  return (ask->sets && ask->sets[0]) || (ask->units && ask->units[0]) ||
         (ask->cell_sets && ask->cell_sets[0]) || ask->changed || ask->purpose || ask->at ||
         ask->engine || ask->map || ask->method || ask->station || ask->calibration;
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

/* As when a pull is added: the shop's clock, and not still to come. *at: the instant, to be freed; NULL without one. */
static gboolean settle_time(const struct ew_desk *desk, const char *typed, char **at,
                            GError **error) {
  struct ew_when when;
  *at = NULL;
  if (!typed)
    return TRUE;
  struct ew_when_ask ask = {.zone = ew_book_zone(desk->book, error),
                            .typed = typed,
                            .now_s = (double)g_get_real_time() / 1e6,
                            .live = TRUE}; /* no file is looked into here */
  if (!ask.zone || !ew_when_of(&ask, NULL, 0, "", &when, error))
    return FALSE;
  *at = ew_instant_write(when.unix_s);
  return TRUE;
}

static gboolean check_time(const struct ew_desk *desk, const char *typed, GError **error) {
  g_autofree char *at = NULL;
  return settle_time(desk, typed, &at, error);
}

static gboolean check_calibration(const char *text, GError **error) {
  return !text || strcmp(text, "now") == 0 ||
         (*text && strspn(text, "0123456789") == strlen(text) && strlen(text) < 18) ||
         ew_refuse(error,
                   "calibration: '%.40s' is neither 'now' (the one in force when the pull ran) nor "
                   "a number of 'cell calibrations'",
                   text);
}

/* Is anything asked for? Refuses a request without, or with a value that can't be; before anything is computed. */
static gboolean amend_check(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                            GError **error) {
  const char *p = ask->purpose;
  if (ask->undo && asks_anything(ask))
    return ew_refuse(error, "--undo takes back the last amendment; give nothing else with it but "
                            "the reason");
  if (!ask->undo && !asks_anything(ask))
    return ew_refuse(error, "say what was wrong, for example --set \"pressure=985 hPa\", --units "
                            "torque=lb-ft, --units all=us, --engine NAME, --at TIME, or --undo");
  if (!ask->reason || strspn(ask->reason, " \t\r\n") == strlen(ask->reason))
    return ew_refuse(error, "reason: say in a few words why; an amendment is kept with its reason");
  if (ask->pulls_count == 0)
    return ew_refuse_with(error, EW_REMEDY_LIST_PULLS, "which pull? Give its number");
  if (p && strcmp(p, "pull") != 0 && strcmp(p, "heat") != 0 && strcmp(p, "break-in") != 0)
    return ew_refuse(error, "--purpose '%s' is not one of pull, heat, break-in", p);
  if (ask->seen && ask->pulls_count != 1)
    return ew_refuse(error, "name the reading of one pull only");
  return check_calibration(ask->calibration, error) && check_time(desk, ask->at, error) &&
         check_records(ask, error) && check_map(ask->map, error) &&
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

static struct ew_amend_company *company_of(GArray *companies, gint64 recording_id) {
  for (guint i = companies->len; i-- > 0;)
    if (g_array_index(companies, struct ew_amend_company, i).recording_id == recording_id)
      return &g_array_index(companies, struct ew_amend_company, i);
  struct ew_amend_company new = {recording_id, g_array_new(FALSE, FALSE, sizeof(gint64)), 0, 0};
  g_array_append_val(companies, new);
  return &g_array_index(companies, struct ew_amend_company, companies->len - 1);
}

static void join(struct ew_amend_company *c, gint64 id) {
  for (guint i = 0; i < c->pulls->len; i++)
    if (g_array_index(c->pulls, gint64, i) == id)
      return;
  g_array_append_val(c->pulls, id);
}

/* The pull asked for, and all of its recording where that is said of it. O(pulls of the book) for the latter. */
static gboolean join_one(const struct ew_amend_round *r, gint64 id, GArray *companies,
                         GError **error) {
  const struct ew_desk *desk = r->desk;
  const struct ew_amend_ask *ask = r->ask;
  const GArray *all = r->rows.rows;
  struct ew_pull_row row;
  gboolean wide = is_wide(ask);
  if (!ew_pull_get(desk->book, id, &row, error))
    return FALSE;
  gboolean good = !ask->undo || is_wide_undo(desk, &row, &wide, error);
  if (good) {
    struct ew_amend_company *c = company_of(companies, row.recording_id);
    gint64 *of_undo = wide ? &c->lead : &c->narrow;
    if (ask->undo && !*of_undo)
      *of_undo = id;
    join(c, id);
  }
  for (guint i = 0; good && wide && i < all->len; i++) {
    const struct ew_pull_row *other = &g_array_index(all, struct ew_pull_row, i);
    if (other->recording_id == row.recording_id)
      join(company_of(companies, row.recording_id), other->id);
  }
  g_assert(!good || companies->len > 0);
  ew_pull_row_clear(&row);
  return good;
}

/* Two that are taken back at once would say two things of one recording. */
static gboolean check_of_one_mind(const GArray *companies, GError **error) {
  for (guint i = 0; i < companies->len; i++) {
    const struct ew_amend_company *c = &g_array_index(companies, struct ew_amend_company, i);
    if (c->lead && c->narrow)
      return ew_refuse(error,
                       "pulls %lld and %lld are of one recording: the last amendment of pull %lld "
                       "was of all of it, that of pull %lld of itself alone: take back pull %lld "
                       "first, then pull %lld",
                       (long long)c->lead, (long long)c->narrow, (long long)c->lead,
                       (long long)c->narrow, (long long)c->narrow, (long long)c->lead);
  }
  return TRUE;
}

/* All of them are there before the first is touched. */
static GArray *gather(const struct ew_amend_round *r, GError **error) {
  GError *problem = NULL;
  GArray *companies = g_array_new(FALSE, FALSE, sizeof(struct ew_amend_company));
  g_array_set_clear_func(companies, (GDestroyNotify)company_clear);
  for (gsize i = 0; !problem && i < r->ask->pulls_count; i++)
    join_one(r, r->ask->pulls[i], companies, &problem);
  if (!problem && check_of_one_mind(companies, &problem))
    return companies;
  g_array_unref(companies);
  g_propagate_error(error, problem);
  return NULL;
}

/* ---- all of them ---- */

/* Is one of them among the pulls that it was asked about, or learned from? "8.1,10.2:9.1;7.1" */
static gboolean asks_about(const struct ew_verdict_row *row, GHashTable *amended) {
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  gboolean about = FALSE;
  ew_asked_read(row->pulls, ids, ids);
  g_auto(GStrv) readings = g_strsplit_set(row->readings ? row->readings : "", ",:;", -1);
  for (guint i = 0; i < ids->len; i++)
    about |= g_hash_table_contains(amended, &g_array_index(ids, gint64, i));
  for (guint i = 0; readings[i]; i++) {
    gint64 id = g_ascii_strtoll(readings[i], NULL, 10);
    about |= g_hash_table_contains(amended, &id);
  }
  return about;
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
 * any more: what is stored is not told as refused because of a list. O(answers), each with the pulls that it learned from. */
static void find_answers(const GArray *before, struct ew_amended *amended) {
  g_assert(amended->answers->len == 0);
  g_autoptr(GHashTable) ids = g_hash_table_new(g_int64_hash, g_int64_equal);
  for (guint i = 0; i < amended->rows->len; i++)
    g_hash_table_add(ids, &g_array_index(amended->rows, struct ew_amended_row, i).pull_id);
  for (guint i = 0; i < before->len; i++) {
    const struct ew_verdict_row *row = &g_array_index(before, struct ew_verdict_row, i);
    if (asks_about(row, ids))
      g_array_append_val(amended->answers, row->id);
  }
}

EW_MESSAGE(carried_on, "desk.amend-carried-on", EW_CAUTION,
           "weather was taken over from it by pull {pulls}, which stays as it is: if that was "
           "wrong too, amend it as well");

/* Weather that was wrong may have been carried on: which pulls have it is said. */
static void note_carried_on(const struct ew_amend_round *r, struct ew_amended *amended) {
  const struct ew_amend_ask *ask = r->ask;
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  gboolean weather = ask->undo || ask->at;
  for (int fact = EW_TOLD_PRESSURE; fact <= EW_TOLD_HUMIDITY; fact++)
    weather |= ew_sets_weather(ask->sets, (enum ew_told_fact)fact);
  for (guint i = 0; weather && i < amended->rows->len; i++)
    g_array_append_val(ids, g_array_index(amended->rows, struct ew_amended_row, i).pull_id);
  g_autoptr(GArray) on = ew_amend_carried_on(&r->rows, ids);
  g_autoptr(GString) list = g_string_new(NULL);
  for (guint i = 0; i < on->len; i++)
    g_string_append_printf(list, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(on, gint64, i));
  if (on->len)
    ew_messages_add(amended->notes, ew_message(&carried_on, ew_say_text("pulls", list->str)));
}

static gboolean begin(struct ew_amend_round *r, GError **error) {
  return amend_check(r->desk, r->ask, error) && settle_time(r->desk, r->ask->at, &r->at, error) &&
         ew_amend_rows_read(r->desk->book, &r->rows, error);
}

gboolean ew_amend(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                  struct ew_amended *amended, GError **error) {
  struct ew_amend_round r = {.desk = desk, .ask = ask};
  *amended = (struct ew_amended){.rows = g_array_new(FALSE, FALSE, sizeof(struct ew_amended_row)),
                                 .added = g_array_new(FALSE, FALSE, sizeof(gint64)),
                                 .held = g_array_new(FALSE, FALSE, sizeof(gint64)),
                                 .notes = ew_messages_new(),
                                 .answers = g_array_new(FALSE, FALSE, sizeof(gint64))};
  g_array_set_clear_func(amended->rows, (GDestroyNotify)row_clear);
  g_autoptr(GArray) companies = begin(&r, error) ? gather(&r, error) : NULL;
  g_autoptr(GArray) answers = companies ? list_answers(desk, error) : NULL;
  gboolean good = answers != NULL;
  struct ew_steps steps = {ask->progress, ask->progress_data, 0, good ? companies->len : 0};
  for (guint i = 0; good && !amended->stopped && i < companies->len; i++) {
    amended->stopped = ask->cancel && g_atomic_int_get(ask->cancel);
    good = amended->stopped ||
           ew_amend_one_recording(&r, &g_array_index(companies, struct ew_amend_company, i),
                                  amended, error);
    ew_step(&steps);
  }
  if (good) {
    g_assert(amended->stopped || amended->rows->len + amended->already > 0);
    find_answers(answers, amended);
    note_carried_on(&r, amended);
  }
  ew_amend_rows_clear(&r.rows);
  g_free(r.at);
  if (!good)
    ew_amended_clear(amended);
  return good;
}

void ew_amended_json(struct ew_book *book, const struct ew_amended *a, struct ew_json *json) {
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
  ew_held_json(book, a->held, json);
  ew_messages_write_json(a->notes, "notes", EW_UNITS_SI, json);
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

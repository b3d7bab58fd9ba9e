/* What an amendment makes of one pull: its kept records are altered, each change is said as a message, and the curve is computed
 * again from raw. Nothing is stored here. */
#include "desk/amend_parts.h"
#include "base/error.h"
#include "base/zone.h"
#include "book/curve_blob.h"
#include "desk/add.h"
#include "desk/amend_doubt.h"
#include "desk/amend_map.h"
#include "desk/amend_told.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(engine_was, "desk.amend-engine", EW_NOTE, "engine: {before} → {after}");
EW_MESSAGE(engine_record, "desk.amend-engine-record", EW_NOTE,
           "engine {engine}: as it is written in the book now");
EW_MESSAGE(changed_was, "desk.amend-changed", EW_NOTE, "what was changed: {before} → {after}");
EW_MESSAGE(purpose_was, "desk.amend-purpose", EW_NOTE, "purpose: {before} → {after}");
EW_MESSAGE(time_was, "desk.amend-time", EW_NOTE, "time: {before} → {after}");
EW_MESSAGE(map_was, "desk.amend-map", EW_NOTE, "channel map: another one");
EW_MESSAGE(map_none, "desk.amend-map-none", EW_NOTE, "channel map: none");
EW_MESSAGE(taken_back, "desk.amend-undo", EW_NOTE, "amendment {amendment} taken back");
EW_MESSAGE(taken_back_of, "desk.amend-undo-of", EW_NOTE,
           "the last amendment of pull {pull}, which was of the whole recording, taken back");
EW_MESSAGE(not_found, "desk.amend-gone", EW_CAUTION,
           "no pull of the recording is there any more by the amended facts");

struct work {
  const struct ew_amend_round *round;
  const struct ew_desk *desk;
  const struct ew_amend_ask *ask;
  struct ew_amending *one;
  const struct ew_pull_row *was; /* of the round's rows */
  struct ew_carried carried;
  char *engine_yaml; /* of the curve that comes; owned */
  char *told_of_all; /* of one that follows: what the pull that leads had told before; owned */
  gboolean nothing;  /* it says so already */
  gboolean follows;  /* what another pull took back of the whole recording; its own facts stay */
};

void ew_amending_clear(struct ew_amending *one) {
  ew_pull_row_clear(&one->row);
  ew_curve_row_clear(&one->curve);
  g_clear_pointer(&one->changes, g_ptr_array_unref);
  g_clear_pointer(&one->findings, g_ptr_array_unref);
  g_clear_pointer(&one->others, g_array_unref);
}

static const char *or_none(const char *text) {
  return text && *text ? text : "-";
}

static void tell_texts(const struct work *w, const struct ew_message_kind *kind, const char *before,
                       const char *after) {
  if (g_strcmp0(before ? before : "", after ? after : "") != 0)
    ew_messages_add(w->one->changes, ew_message(kind, ew_say_text("before", or_none(before)),
                                                ew_say_text("after", or_none(after))));
}

/* As the shop's clock showed it. */
static void tell_time(const struct work *w, const char *before, const char *after) {
  g_assert(before && after);
  GTimeZone *zone = ew_book_zone(w->desk->book, NULL);
  g_autofree char *was = zone ? ew_zone_show(zone, before) : g_strdup(before),
                  *now = zone ? ew_zone_show(zone, after) : g_strdup(after);
  if (g_strcmp0(before, after) != 0)
    ew_messages_add(w->one->changes,
                    ew_message(&time_was, ew_say_text("before", was), ew_say_text("after", now)));
}

/* ---- the records that a pull was computed with ---- */

/* What whoever asks had before his eyes is what is amended. */
static gboolean check_seen(const struct work *w, const struct ew_recomputed *a, GError **error) {
  gint64 seen = w->ask->seen;
  return seen == 0 || seen == a->pull.reading ||
         ew_refuse(error,
                   "pull %lld was amended meanwhile (reading %lld, and you saw reading %lld): look "
                   "at it again, then amend it if it is still wrong",
                   (long long)a->pull.id, (long long)a->pull.reading, (long long)seen);
}

static gboolean alter_engine(struct work *w, struct ew_recomputed *a, GError **error) {
  struct ew_engine_row engine = {0}, before = {0};
  if (!ew_engine_find(w->desk->book, w->ask->engine, &engine, error))
    return FALSE;
  g_autofree char *id = g_strdup_printf("%" G_GINT64_FORMAT, a->pull.engine_id);
  gboolean good = !a->pull.engine_id || ew_engine_find(w->desk->book, id, &before, error);
  if (good && engine.id != a->pull.engine_id)
    tell_texts(w, &engine_was, before.name, engine.name);
  else if (good && g_strcmp0(engine.yaml, w->engine_yaml) != 0)
    ew_messages_add(w->one->changes,
                    ew_message(&engine_record, ew_say_text("engine", engine.name)));
  if (good) {
    g_autoptr(ew_node) root = ew_node_parse("engine", engine.yaml, strlen(engine.yaml), error);
    ew_engine_clear(&a->engine);
    good = root && ew_engine_read(root, "engine", &a->engine, error);
    a->pull.engine_id = engine.id;
    g_free(w->engine_yaml);
    w->engine_yaml = g_strdup(engine.yaml);
  }
  ew_engine_row_clear(&engine);
  ew_engine_row_clear(&before);
  return good;
}

static void alter_text(char **text, const char *to) {
  g_free(*text);
  *text = to && *to ? g_strdup(to) : NULL;
}

static void alter_words(struct work *w, struct ew_recomputed *a) {
  const struct ew_amend_ask *ask = w->ask;
  if (ask->changed) {
    tell_texts(w, &changed_was, a->pull.changed, ask->changed);
    alter_text(&a->pull.changed, ask->changed);
  }
  if (ask->purpose) {
    tell_texts(w, &purpose_was, a->pull.purpose, ask->purpose);
    alter_text(&a->pull.purpose, ask->purpose);
  }
  if (w->round->at) {
    tell_time(w, a->pull.at, w->round->at);
    alter_text(&a->pull.at, w->round->at);
    alter_text(&a->recording.measured_at, w->round->at);
    alter_text(&a->recording.clock, ew_told_from_keys[EW_FROM_TYPED]);
  }
}

static void take_map(struct work *w, struct ew_recomputed *a, char *map) {
  if (g_strcmp0(a->recording.channel_map, map) != 0)
    ew_messages_add(w->one->changes, ew_message_plain(map ? &map_was : &map_none));
  g_free(a->recording.channel_map);
  a->recording.channel_map = map;
}

static gboolean alter_map(struct work *w, struct ew_recomputed *a, GError **error) {
  const struct ew_amend_ask *ask = w->ask;
  if (ask->map)
    take_map(w, a, *ask->map ? g_strdup(ask->map) : NULL);
  if (!ask->units || !ask->units[0])
    return TRUE;
  char *map = ew_map_with_units(a, ask->units, w->one->changes, error);
  if (!map)
    return FALSE;
  g_free(a->recording.channel_map);
  a->recording.channel_map = map;
  return TRUE;
}

/* Weather that is said afterwards was read for this pull, unless its age is said with it. A pull that keeps where its facts come from
 * knows the age of each (ew_carry_again). To be freed with g_strfreev. */
static char **sets_of(const struct work *w) {
  const char *const *sets = w->ask->sets;
  g_autoptr(GArray) kept = ew_told_read(w->was->told);
  static const char *const weather[] = {"pressure", "temperature", "humidity", "dew_point",
                                        "wet_bulb"};
  GPtrArray *all = g_ptr_array_new();
  gboolean told = FALSE, aged = FALSE;
  for (guint i = 0; sets && sets[i]; i++) {
    g_autofree char *name = g_strndup(sets[i], strcspn(sets[i], "="));
    g_strstrip(name);
    aged |= strcmp(name, "weather_age") == 0;
    for (gsize k = 0; k < G_N_ELEMENTS(weather); k++)
      told |= strcmp(name, weather[k]) == 0;
    g_ptr_array_add(all, g_strdup(sets[i]));
  }
  if (told && !aged && kept->len == 0)
    g_ptr_array_add(all, g_strdup("weather_age="));
  g_ptr_array_add(all, NULL);
  return (char **)g_ptr_array_free(all, FALSE);
}

static gboolean alter_as_asked(struct work *w, struct ew_recomputed *a, GError **error) {
  struct ew_desk own;
  ew_desk_copy(w->desk, &own);
  g_strfreev(own.given.sets);
  g_strfreev(own.given.cell_sets);
  own.given = (struct ew_given){.standard = w->ask->method != NULL,
                                .sets = sets_of(w),
                                .cell_sets = g_strdupv((char **)(gsize)w->ask->cell_sets)};
  if (w->ask->method)
    own.method.standard = w->desk->method.standard;
  gboolean good = ew_desk_alter(&own, a, w->one->changes, error) &&
                  (!w->ask->engine || alter_engine(w, a, error)) && alter_map(w, a, error);
  ew_desk_clear(&own);
  if (good)
    alter_words(w, a);
  return good && ew_amend_settle(w->desk, w->ask, &w->round->rows, w->was, a, &w->carried,
                                 w->one->changes, &w->one->others, error);
}

/* ---- the last amendment taken back ---- */

static gboolean last_amendment(struct ew_book *book, const struct ew_pull_row *pull, gint64 *id,
                               GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_amendment_list(book, pull->id, &problem);
  *id = 0;
  for (guint i = 0; !problem && i < rows->len; i++)
    if (g_array_index(rows, struct ew_amendment_row, i).reading == pull->reading)
      *id = g_array_index(rows, struct ew_amendment_row, i).id;
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  return *id || ew_refuse(error, "pull %lld was never amended: there is nothing to take back",
                          (long long)pull->id);
}

/* As it was written then; "": none. */
static gboolean take_engine(struct work *w, struct ew_recomputed *a, const char *yaml,
                            GError **error) {
  g_autoptr(ew_node) root = *yaml ? ew_node_parse("engine", yaml, strlen(yaml), error) : NULL;
  if (*yaml && !root)
    return FALSE;
  ew_engine_clear(&a->engine);
  if (!root)
    ew_engine_defaults(&a->engine);
  else if (!ew_engine_read(root, "engine", &a->engine, error))
    return FALSE;
  g_free(w->engine_yaml);
  w->engine_yaml = g_strdup(yaml);
  return TRUE;
}

static gboolean records_of(const struct ew_former_row *f, struct work *w, struct ew_recomputed *a,
                           GError **error) {
  if (!take_engine(w, a, f->curve.engine, error))
    return FALSE;
  ew_fields_clear(&ew_bench_fields, &a->bench);
  ew_setup_clear(&a->setup);
  g_clear_pointer(&a->calibration, ew_calibrated_free);
  a->bench = (struct ew_bench){0};
  return ew_record_from_yaml(&ew_method_fields, "method", f->curve.method, &a->method, error) &&
         ew_record_from_yaml(&ew_bench_fields, "cell", f->curve.cell, &a->bench, error) &&
         ew_record_from_yaml(&ew_setup_fields, "set-up", f->pull.setup, &a->setup, error) &&
         ew_calibrated_parse(f->curve.calibration, &a->calibration, error);
}

static gboolean alter_back(struct work *w, struct ew_recomputed *a, GError **error) {
  gint64 id;
  struct ew_former_row f;
  if (!last_amendment(w->desk->book, &a->pull, &id, error) ||
      !ew_former_get(w->desk->book, a->pull.id, a->pull.reading - 1, &f, error))
    return FALSE;
  struct ew_setup before = {0};
  ew_fields_copy(&ew_setup_fields, &a->setup, &before);
  ew_messages_add(w->one->changes, ew_message(&taken_back, ew_say_count("amendment", id)));
  gboolean good = records_of(&f, w, a, error);
  if (good) /* what that means: of two that are taken back in turn, the second brings the first again */
    ew_setup_altered(w->one->changes, &before, &a->setup);
  ew_setup_clear(&before);
  struct ew_pull_row *p = &a->pull;
  tell_time(w, p->at, f.pull.at);
  tell_texts(w, &changed_was, p->changed, f.pull.changed);
  tell_texts(w, &purpose_was, p->purpose, f.pull.purpose);
  p->engine_id = f.pull.engine_id;
  alter_text(&p->changed, f.pull.changed);
  alter_text(&p->purpose, f.pull.purpose);
  alter_text(&p->at, f.pull.at);
  alter_text(&p->told, f.pull.told);
  if (p->part < 0) { /* it had been lost, and was discarded for it */
    alter_text(&p->discarded, f.pull.discarded);
    w->one->discard = TRUE;
    p->part = f.pull.part;
  }
  alter_text(&a->recording.channel_map, f.channel_map);
  alter_text(&a->recording.recorder, f.recorder);
  alter_text(&a->recording.clock, f.clock);
  alter_text(&a->recording.measured_at, f.measured_at);
  good = good && ew_amend_settle_place(w->desk, &w->round->rows, w->was, &f.pull, a,
                                       &w->one->others, error);
  w->one->undoes = id;
  ew_former_row_clear(&f);
  return good;
}

/* ---- taken back of the whole recording by another pull ---- */

static gboolean take_engine_of(struct work *w, struct ew_recomputed *a,
                               const struct ew_former_row *f, GError **error) {
  gint64 now = a->pull.engine_id, then = f->pull.engine_id;
  if (now == then)
    return TRUE;
  a->pull.engine_id = then;
  return take_engine(w, a, f->curve.engine, error);
}

/* Of a pull that was amended by itself since, or found since: the recording is as it was, what was said of the pull alone stays. */
static gboolean follow_back(struct work *w, struct ew_recomputed *a, const struct ew_former_row *f,
                            const struct ew_pull_row *lead, GError **error) {
  w->follows = TRUE;
  take_map(w, a, g_strdup(f->channel_map));
  alter_text(&a->recording.recorder, f->recorder);
  alter_text(&a->recording.clock, f->clock);
  alter_text(&a->recording.measured_at, f->measured_at);
  if (g_strcmp0(lead->at, f->pull.at) != 0) {
    tell_time(w, a->pull.at, f->pull.at);
    alter_text(&a->pull.at, f->pull.at);
  }
  return take_engine_of(w, a, f, error) &&
         ew_amend_settle(w->desk, w->ask, &w->round->rows, w->was, a, &w->carried, w->one->changes,
                         &w->one->others, error);
}

/* The recording as it was before the last amendment of the pull that leads: each of its pulls takes back its own part of that. */
static gboolean alter_with_lead(struct work *w, struct ew_recomputed *a, GError **error) {
  const struct ew_pull_row *lead = ew_amend_row(&w->round->rows, w->round->lead);
  struct ew_former_row f;
  gint64 reading, id;
  g_assert(lead && lead->reading > 1 && lead->recording_id == a->pull.recording_id);
  if (!ew_former_get(w->desk->book, lead->id, lead->reading - 1, &f, error))
    return FALSE;
  gboolean good = ew_amend_step_of(w->desk->book, &a->pull, &f, &reading, &id, error);
  if (good && reading == a->pull.reading)
    good = alter_back(w, a, error);
  else if (good) {
    ew_messages_add(w->one->changes,
                    id ? ew_message(&taken_back, ew_say_count("amendment", id))
                       : ew_message(&taken_back_of, ew_say_count("pull", lead->id)));
    w->one->undoes = id;
    g_free(w->told_of_all);
    w->told_of_all = g_strdup(f.pull.told);
    good = follow_back(w, a, &f, lead, error);
  }
  ew_former_row_clear(&f);
  return good;
}

static gboolean alter(struct ew_recomputed *a, gpointer user, GError **error) {
  struct work *w = user;
  w->one->before_n_m = a->pull.band_mean_n_m;
  if (!check_seen(w, a, error) || !(!w->ask->undo    ? alter_as_asked(w, a, error)
                                    : w->round->lead ? alter_with_lead(w, a, error)
                                                     : alter_back(w, a, error)))
    return FALSE;
  a->match = TRUE;
  w->nothing = w->one->changes->len == 0;
  return !w->nothing; /* without an error: there is nothing to compute */
}

/* ---- what it becomes ---- */

/* All pulls of a recording say the same of it: whichever is stored last. */
static void take_recording(struct ew_recomputed *a, gint64 engine_id, struct ew_recording_row *to) {
  g_assert(!to->id || (g_strcmp0(to->channel_map, a->recording.channel_map) == 0 &&
                       g_strcmp0(to->measured_at, a->recording.measured_at) == 0));
  ew_recording_row_clear(to);
  *to = a->recording;
  to->engine_id = engine_id;
  a->recording = (struct ew_recording_row){0};
  g_clear_pointer(&to->bytes, g_bytes_unref);
}

/* An earlier state of it says what it said then. */
static void take_told(struct work *w, struct ew_recomputed *a) {
  if (w->ask->undo && !w->follows)
    return;
  char *told = ew_amend_told(w->ask, a, w->was, &w->carried);
  if (w->follows) {
    char *own = told;
    told = ew_amend_told_of_all(own, w->told_of_all);
    g_free(own);
  }
  g_free(a->pull.told);
  a->pull.told = told;
}

static void take_row(struct work *w, struct ew_recomputed *a) {
  struct ew_pull_row *row = &w->one->row;
  *row = a->pull;
  a->pull = (struct ew_pull_row){0};
  g_free(row->setup);
  row->setup = ew_fields_write_yaml(&ew_setup_fields, &a->setup);
  g_assert(row->id == w->one->id);
}

static gboolean take_curve(struct work *w, struct ew_recomputed *a, GError **error) {
  g_assert(a->part < a->processed->curves->len);
  const struct ew_curve *curve = ew_recomputed_curve(a);
  struct ew_amending *one = w->one;
  GBytes *bytes = ew_curve_to_bytes(curve);
  one->row.part = (int)a->part;
  alter_text(&one->row.kind, ew_segment_kind_names[curve->kind]);
  one->row.top_rpm = curve->high_rpm;
  one->row.band_mean_n_m = curve->band_mean_n_m;
  one->curve =
      (struct ew_curve_row){.method = ew_fields_write_yaml(&ew_method_fields, &a->method),
                            .cell = ew_fields_write_yaml(&ew_bench_fields, &a->bench),
                            .engine = g_steal_pointer(&w->engine_yaml),
                            .digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes),
                            .bytes = bytes,
                            .calibration = ew_calibrated_write(a->calibration)};
  return ew_curve_has_bytes(curve, bytes) ||
         ew_fail(error, "pull %lld gives a curve that cannot be stored", (long long)one->id);
}

/* It keeps its curve and leaves the company of those that count. */
static gboolean lose(struct work *w, struct ew_recomputed *a, GError **error) {
  g_assert(w->one->changes);
  struct ew_amending *one = w->one;
  if (!ew_curve_get(w->desk->book, one->id, &one->curve, error))
    return FALSE;
  take_row(w, a);
  one->gone = one->discard = TRUE;
  one->row.part = (int)-one->id;
  alter_text(&one->row.discarded, w->ask->reason);
  ew_messages_add(one->changes, ew_message_plain(&not_found));
  return TRUE;
}

/* The new reading, with what speaks against it. */
static gboolean take_new(struct work *w, struct ew_recomputed *a, GError **error) {
  take_told(w, a);
  take_row(w, a);
  if (!take_curve(w, a, error))
    return FALSE;
  w->one->findings = ew_amend_doubts(w->desk, w->ask, &w->round->rows, a, w->was, &w->one->row,
                                     &a->recording, w->one->undoes, &w->carried, error);
  return w->one->findings != NULL;
}

static gboolean take_computed(struct work *w, struct ew_recomputed *a, GHashTable *taken,
                              struct ew_recording_row *recording, gboolean *same, GError **error) {
  gboolean gone = a->gone || g_hash_table_contains(taken, GUINT_TO_POINTER(a->part));
  *same = gone && a->pull.part < 0; /* lost already */
  if (*same)
    return TRUE;
  if (!gone)
    g_hash_table_add(taken, GUINT_TO_POINTER(a->part));
  if (!(gone ? lose(w, a, error) : take_new(w, a, error)))
    return FALSE;
  g_assert(gone || w->one->row.part == (int)a->part);
  take_recording(a, w->one->row.engine_id, recording);
  return TRUE;
}

gboolean ew_amending_of(const struct ew_amend_round *round, gint64 pull_id, GHashTable *taken,
                        struct ew_amending *one, struct ew_recording_row *recording,
                        struct ew_recomputed *again, gboolean *same, GError **error) {
  struct ew_curve_row kept;
  *one = (struct ew_amending){.id = pull_id, .changes = ew_messages_new()};
  *again = (struct ew_recomputed){0};
  *same = FALSE;
  if (!ew_curve_get(round->desk->book, pull_id, &kept, error))
    return FALSE;
  struct work w = {.round = round,
                   .desk = round->desk,
                   .ask = round->ask,
                   .one = one,
                   .was = ew_amend_row(&round->rows, pull_id),
                   .engine_yaml = g_steal_pointer(&kept.engine)};
  ew_curve_row_clear(&kept);
  g_assert(w.was);
  gboolean good = ew_recompute_altered(round->desk->book, pull_id, alter, &w, again, error);
  *same = !good && w.nothing;
  if (good && !(good = take_computed(&w, again, taken, recording, same, error)))
    ew_recomputed_clear(again);
  g_free(w.engine_yaml);
  g_free(w.told_of_all);
  return good || *same;
}

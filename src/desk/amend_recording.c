/* One recording amended, in one transaction: each pull of it, what is lost and what is found besides, and the channel map that is
 * remembered for files that look the same. */
#include "base/error.h"
#include "book/curve_blob.h"
#include "book/recorder.h"
#include "desk/amend_map.h"
#include "desk/amend_doubt.h"
#include "desk/amend_parts.h"
#include "desk/recorder.h"
#include <math.h>
#include <string.h>

struct amending_all {
  GArray *ones; /* struct ew_amending */
  struct ew_recording_row recording;
  struct ew_recomputed last; /* the one that was computed last */
  guint already, found;
};

static void all_clear(struct amending_all *all) {
  g_array_unref(all->ones);
  ew_recording_row_clear(&all->recording);
  ew_recomputed_clear(&all->last);
}

static gboolean make_all(const struct ew_amend_round *r, const struct ew_amend_company *c,
                         struct amending_all *all, GError **error) {
  g_autoptr(GHashTable) taken = g_hash_table_new(NULL, NULL);
  for (guint i = 0; i < c->pulls->len; i++) {
    struct ew_amending one;
    struct ew_recomputed again;
    gboolean same;
    gboolean good = ew_amending_of(r, g_array_index(c->pulls, gint64, i), taken, &one,
                                   &all->recording, &again, &same, error);
    if (good && !same) {
      ew_recomputed_clear(&all->last);
      all->last = again;
      all->found += !one.gone;
      g_array_append_val(all->ones, one);
    } else {
      ew_amending_clear(&one);
      ew_recomputed_clear(&again);
      all->already += same;
    }
    if (!good)
      return FALSE;
  }
  g_assert(all->ones->len + all->already == c->pulls->len);
  return TRUE;
}

static gboolean is_taken(const struct amending_all *all, guint part) {
  for (guint i = 0; i < all->ones->len; i++)
    if (g_array_index(all->ones, struct ew_amending, i).row.part == (int)part)
      return TRUE;
  return FALSE;
}

/* Told the same as the first. */
static struct ew_new_pull besides_of(const struct amending_all *all,
                                     const struct ew_amend_company *c, guint part) {
  g_assert(all->ones->len > 0 && part < all->last.processed->curves->len);
  const struct ew_amending *first = &g_array_index(all->ones, struct ew_amending, 0);
  const struct ew_curve *curve = g_ptr_array_index(all->last.processed->curves, part);
  struct ew_new_pull pull = {.row = first->row, .curve = first->curve};
  pull.row.id = 0;
  pull.row.recording_id = c->recording_id;
  pull.row.part = (int)part;
  pull.row.discarded = NULL;
  pull.row.kind = (char *)(gsize)ew_segment_kind_names[curve->kind];
  pull.row.top_rpm = curve->high_rpm;
  pull.row.band_mean_n_m = curve->band_mean_n_m;
  pull.curve.bytes = ew_curve_to_bytes(curve);
  pull.curve.digest = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, pull.curve.bytes);
  return pull;
}

/* Pulls that the new reading finds besides. */
static GArray *found_besides(const struct ew_amend_round *r, const struct amending_all *all,
                             const struct ew_amend_company *c, GError **error) {
  GArray *more = g_array_new(FALSE, FALSE, sizeof(struct ew_new_pull));
  const struct ew_amend_ask *ask = r->ask;
  gboolean wide = (ask->units && ask->units[0]) || ask->map, good = TRUE;
  for (guint part = 0; wide && good && part < all->last.processed->curves->len; part++) {
    if (is_taken(all, part))
      continue;
    struct ew_new_pull pull = besides_of(all, c, part);
    pull.findings = ew_amend_doubts_besides(r->desk, &r->rows, &all->last, part, &pull.row, error);
    g_array_append_val(more, pull);
    good =
        pull.findings &&
        (ew_curve_has_bytes(g_ptr_array_index(all->last.processed->curves, part),
                            pull.curve.bytes) ||
         ew_fail(error, "part %u of the recording gives a curve that cannot be stored", part + 1));
  }
  return more;
}

static void besides_free(GArray *more) {
  for (guint i = 0; i < more->len; i++) {
    struct ew_new_pull *pull = &g_array_index(more, struct ew_new_pull, i);
    g_bytes_unref(pull->curve.bytes);
    g_free(pull->curve.digest);
    if (pull->findings)
      g_ptr_array_unref((GPtrArray *)(gsize)pull->findings);
  }
  g_array_unref(more);
}

static void take_rows(struct amending_all *all, const GArray *ids, struct ew_amended *amended) {
  g_assert(ids->len == all->ones->len);
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

/* ---- files that look the same ---- */

EW_MESSAGE(map_learned, "desk.amend-map-learned", EW_NOTE,
           "files with these columns are read so from now on");
EW_MESSAGE(map_of_profile, "desk.amend-map-profile", EW_CAUTION,
           "files of recorder {recorder} are still read by its profile: if that is wrong too, put "
           "it right with 'recorder amend'");
EW_MESSAGE(profile_learned, "desk.amend-profile-learned", EW_NOTE,
           "recorder {recorder} has version {version} now: its files are read so from now on");
EW_MESSAGE(map_not_learned, "desk.amend-map-not-learned", EW_NOTE,
           "the next file with these columns is read as this one was at first: 'recorder new' "
           "keeps how it is to be read");

/* What is read otherwise from now on: files with these columns, or a recorder's. NULL: nothing. */
struct taught {
  char *columns, *recorder, *profile;
};
static void taught_clear(struct taught *t) {
  g_free(t->columns);
  g_free(t->recorder);
  g_free(t->profile);
}

/* However it is written. */
static gboolean is_map_of(const struct ew_profile *profile, const char *map) {
  struct ew_profile own = {0};
  gboolean same = map && ew_profile_read(map, &own, NULL) && strcmp(own.map, profile->map) == 0;
  ew_profile_clear(&own);
  return same;
}

/* The profile said it, and was wrong: it gets a further version. What it says nothing of is left, and so is one that was amended or
 * withdrawn since. `recorder`: "cell logger.2". */
static gboolean teach_profile(const struct ew_amend_round *r, const char *recorder,
                              const char *before, const char *map, struct taught *taught,
                              ew_message **note, GError **error) {
  g_assert(recorder && strrchr(recorder, '.'));
  g_autofree char *name = g_strndup(recorder, (gsize)(strrchr(recorder, '.') - recorder));
  struct ew_recorder_row row = {0};
  struct ew_profile profile = {0};
  gboolean there = FALSE;
  if (!ew_recorder_get(r->desk->book, name, 0, &row, &there, error))
    return FALSE;
  gboolean used = there && !row.withdrawn && ew_profile_read(row.yaml, &profile, NULL);
  gboolean wrong =
      used && map && strstr(profile.map, "\"channels\"") && is_map_of(&profile, before);
  if (wrong && (taught->profile = ew_profile_with(&profile, map, NULL)))
    taught->recorder = g_strdup(name);
  *note = taught->recorder ? ew_message(&profile_learned, ew_say_text("recorder", name),
                                        ew_say_count("version", row.version + 1))
          : r->ask->undo || (used && is_map_of(&profile, map))
              ? NULL
              : ew_message(&map_of_profile, ew_say_text("recorder", recorder));
  ew_profile_clear(&profile);
  ew_recorder_row_clear(&row);
  return TRUE;
}

/* How its recorder writes, not what went wrong in one file: US units throughout, or a ratio under lambda's name. */
static gboolean is_of_recorder(const struct ew_amend_ask *ask) {
  for (guint i = 0; ask->units && ask->units[i]; i++)
    if (strcmp(ask->units[i], EW_ALL_US) == 0 ||
        g_ascii_strcasecmp(ask->units[i], "lambda=AFR") == 0)
      return TRUE;
  return FALSE;
}

/* A map that was remembered for them and was wrong in this one is wrong in all; one that is taken back, and was the first, is forgotten. */
static gboolean settle_map(const struct ew_amend_round *r, const struct amending_all *all,
                           struct taught *taught, ew_message **note, GError **error) {
  const struct ew_recording_row *now = &all->recording;
  g_autofree char *recorder = NULL, *before = NULL, *remembered = NULL;
  *note = NULL;
  if (!ew_recording_told(r->desk->book, now->id, &recorder, &before, error))
    return FALSE;
  if (g_strcmp0(before, now->channel_map) == 0 || !all->last.processed)
    return TRUE;
  if (recorder && strrchr(recorder, '.'))
    return teach_profile(r, recorder, before, now->channel_map, taught, note, error);
  g_autofree char *columns = ew_fingerprint_of(all->last.processed->layout);
  if (!ew_channel_map_get(r->desk->book, columns, &remembered, error))
    return FALSE;
  gboolean learned = remembered ? g_strcmp0(remembered, before) == 0 : is_of_recorder(r->ask);
  g_assert(now->channel_map || r->ask->undo);
  *note = learned && now->channel_map ? ew_message_plain(&map_learned)
          : r->ask->undo              ? NULL
                                      : ew_message_plain(&map_not_learned);
  taught->columns = learned ? g_steal_pointer(&columns) : NULL;
  return TRUE;
}

/* ---- others that move with it ---- */

EW_MESSAGE(others_moved, "desk.amend-others-moved", EW_CAUTION,
           "other pulls count as of another run or mounting now ({pulls}), as they ran before or "
           "after it: ask again what was asked about them");

/* The pulls of a recording move together: what one says of the others holds for all. NULL: nothing moves. */
static const GArray *others_of(const struct amending_all *all) {
  for (guint i = 0; i < all->ones->len; i++) {
    const GArray *others = g_array_index(all->ones, struct ew_amending, i).others;
    if (others && others->len)
      return others;
  }
  return NULL;
}

#define MOST_LISTED 12

static void tell_others(const GArray *others, struct ew_amended *amended) {
  g_autoptr(GString) pulls = g_string_new(NULL);
  for (guint i = 0; i < MIN(others->len, MOST_LISTED); i++)
    g_string_append_printf(pulls, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(others, struct ew_pull_place, i).id);
  if (others->len > MOST_LISTED)
    g_string_append(pulls, " ...");
  ew_messages_add(amended->notes, ew_message(&others_moved, ew_say_text("pulls", pulls->str)));
}

/* ---- kept ---- */

static struct ew_amended_pull *pulls_of(const struct amending_all *all) {
  struct ew_amended_pull *pulls = g_new0(struct ew_amended_pull, all->ones->len);
  for (guint i = 0; i < all->ones->len; i++) {
    const struct ew_amending *one = &g_array_index(all->ones, struct ew_amending, i);
    pulls[i] = (struct ew_amended_pull){.row = &one->row,
                                        .curve = &one->curve,
                                        .changes = one->changes,
                                        .findings = one->findings,
                                        .undoes = one->undoes,
                                        .discard = one->discard};
  }
  return pulls;
}

/* As the book has it now: held for the gravest of its findings. */
static void put_row(struct ew_amend_round *r, const struct ew_pull_row *row, const char *day,
                    const GPtrArray *findings, struct ew_amended *amended) {
  struct ew_pull_row now = *row;
  const ew_message *gravest = NULL;
  for (guint i = 0; findings && i < findings->len; i++)
    if (!gravest || ew_message_severity(findings->pdata[i]) > ew_message_severity(gravest))
      gravest = findings->pdata[i];
  g_autofree char *held = gravest ? ew_message_write(gravest) : NULL;
  now.held = held;
  now.day = (char *)(gsize)day;
  ew_amend_rows_put(&r->rows, &now);
  if (held)
    g_array_append_val(amended->held, now.id);
}

/* For the recordings that follow. */
static void put_rows(struct ew_amend_round *r, const struct amending_all *all, const GArray *more,
                     guint added, const char *day, struct ew_amended *amended) {
  g_assert(amended->added->len == added + more->len);
  for (guint i = 0; i < all->ones->len; i++) {
    const struct ew_amending *one = &g_array_index(all->ones, struct ew_amending, i);
    struct ew_pull_row now = one->row;
    now.reading++;
    put_row(r, &now, day, one->findings, amended);
  }
  for (guint i = 0; i < more->len; i++) {
    const struct ew_new_pull *pull = &g_array_index(more, struct ew_new_pull, i);
    struct ew_pull_row now = pull->row;
    now.id = g_array_index(amended->added, gint64, added + i);
    now.reading = 1;
    put_row(r, &now, day, pull->findings, amended);
  }
}

static void take_note(struct ew_amended *amended, ew_message *note) {
  for (guint i = 0; note && i < amended->notes->len; i++)
    if (ew_message_equal(amended->notes->pdata[i], note)) {
      ew_message_free(note);
      return;
    }
  ew_messages_add(amended->notes, note);
}

static gboolean keep_all(struct ew_amend_round *r, struct amending_all *all, const GArray *more,
                         struct ew_amended *amended, GError **error) {
  g_assert(all->ones->len > 0);
  g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autofree struct ew_amended_pull *pulls = pulls_of(all);
  struct taught taught = {0};
  guint added = amended->added->len;
  ew_message *note;
  char day[EW_DAY_SIZE];
  const struct ew_amending *first = &g_array_index(all->ones, struct ew_amending, 0);
  if (!ew_book_day(r->desk->book, first->row.at, day, error) ||
      !settle_map(r, all, &taught, &note, error))
    return FALSE;
  const GArray *others = others_of(all);
  const struct ew_new_amendment n = {
      .pulls = pulls,
      .pulls_count = all->ones->len,
      .recording = &all->recording,
      .more = (const struct ew_new_pull *)(const void *)more->data,
      .more_count = more->len,
      .moved = others ? (const struct ew_pull_place *)(const void *)others->data : NULL,
      .moved_count = others ? others->len : 0,
      .map_source = taught.columns,
      .recorder = taught.recorder,
      .profile = taught.profile,
      .who = r->ask->who,
      .reason = r->ask->reason};
  take_note(amended, note);
  gboolean kept = ew_keep_amendment(r->desk->book, &n, ids, amended->added, error);
  taught_clear(&taught);
  if (!kept)
    return FALSE;
  put_rows(r, all, more, added, day, amended);
  if (others) {
    ew_amend_rows_move(&r->rows, others);
    tell_others(others, amended);
  }
  take_rows(all, ids, amended);
  return TRUE;
}

/* A reading that finds no pull at all is none. */
static gboolean check_found(const struct amending_all *all, GError **error) {
  if (all->found > 0 || all->last.processed->curves->len > 0)
    return TRUE;
  g_autofree char *why = all->last.processed->why_none
                             ? ew_message_text(all->last.processed->why_none, EW_UNITS_SI)
                             : NULL;
  return ew_refuse(error, "%s: read like this no pull is found in it: %s", all->recording.name,
                   why ? why : "-");
}

gboolean ew_amend_one_recording(struct ew_amend_round *r, const struct ew_amend_company *c,
                                struct ew_amended *amended, GError **error) {
  struct amending_all all = {.ones = g_array_new(FALSE, FALSE, sizeof(struct ew_amending))};
  g_array_set_clear_func(all.ones, (GDestroyNotify)ew_amending_clear);
  r->lead = c->lead;
  gboolean good = make_all(r, c, &all, error);
  amended->already += all.already;
  if (good && all.ones->len > 0) {
    GError *problem = NULL;
    GArray *more = NULL;
    if (check_found(&all, &problem)) {
      more = found_besides(r, &all, c, &problem);
      if (!problem)
        keep_all(r, &all, more, amended, &problem);
      besides_free(more);
    }
    good = problem == NULL;
    if (problem)
      g_propagate_error(error, problem);
  }
  all_clear(&all);
  return good;
}

/* Which questions an amendment answers: those that are asked of the new reading by the same rules as of a new pull come of themselves. The
 * others stay, unless the amendment is about what they ask: units that were assumed, by units or a map; what a calibration or
 * a check weight put in doubt, by anything that torque is computed with. */
#include "desk/amend_doubt.h"
#include "desk/doubt.h"
#include "base/zone.h"
#include "book/hold.h"
#include "book/recorder.h"
#include "desk/recorder.h"
#include "desk/when.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

#define NEARLY 0.05 /* of a figure */

/* ---- nearly the same ---- */

static gboolean is_near(double a, double b) {
  return a == b || (isnan(a) && isnan(b)) || fabs(a - b) <= NEARLY * fmin(fabs(a), fabs(b));
}

static gboolean is_near_argument(const struct ew_argument *a, const struct ew_argument *b) {
  if (a->kind != b->kind || g_strcmp0(a->name, b->name) != 0)
    return FALSE;
  switch (a->kind) {
  case EW_ARGUMENT_TEXT:
  case EW_ARGUMENT_TERM: return g_strcmp0(a->text, b->text) == 0;
  case EW_ARGUMENT_WORD: return a->word == b->word;
  case EW_ARGUMENT_COUNT: return a->count == b->count;
  case EW_ARGUMENT_FIGURE:
  case EW_ARGUMENT_SHARE:
  case EW_ARGUMENT_QUANTITY: return is_near(a->figure, b->figure);
  case EW_ARGUMENT_MESSAGE: return ew_message_equal(a->message, b->message);
  case EW_ARGUMENT_MESSAGES:
  case EW_ARGUMENT_KINDS_COUNT: break;
  }
  return FALSE; /* lists are compared as a whole */
}

/* The names of its places, from the text of its kind. */
static gboolean arguments_are_near(const ew_message *a, const ew_message *b) {
  const struct ew_message_kind *kind = ew_message_kind_find(ew_message_id(a));
  for (const char *at = kind ? strchr(kind->text, '{') : NULL; at; at = strchr(at + 1, '{')) {
    g_autofree char *name = g_strndup(at + 1, strcspn(at + 1, "}"));
    const struct ew_argument *one = ew_message_argument(a, name),
                             *other = ew_message_argument(b, name);
    if (!one != !other || (one && !is_near_argument(one, other)))
      return FALSE;
  }
  return kind != NULL;
}

/* Is it nearly the same question: of one kind, about one fact, and each figure within a twentieth? */
static gboolean doubt_is_nearly(const ew_message *a, const ew_message *b) {
  if (ew_message_equal(a, b))
    return TRUE;
  return strcmp(ew_message_id(a), ew_message_id(b)) == 0 &&
         g_strcmp0(ew_message_subject(a), ew_message_subject(b)) == 0 && arguments_are_near(a, b);
}

/* ---- what it was held for ---- */

/* Weather that was said two ways: what was said beside what was recorded is not kept with the pull, so it cannot be asked of a later
 * reading again. */
static gboolean is_of_two(const ew_message *finding) {
  return ew_message_is(finding, &ew_doubt_typed_two) ||
         ew_message_is(finding, &ew_doubt_station_typed) ||
         ew_message_is(finding, &ew_doubt_station_recorded);
}

/* Evidence a second time: no fact of the pull that could be mended. */
static gboolean is_twice(const ew_message *finding) {
  return ew_message_is(finding, &ew_doubt_twice) || ew_message_is(finding, &ew_doubt_own_export);
}

/* Asked of a file that names no units, when it is added. */
static gboolean is_of_file_units(const ew_message *finding) {
  return ew_message_is(finding, &ew_doubt_units) || ew_message_is(finding, &ew_doubt_us_units);
}

/* Asked of every reading again? */
static gboolean is_asked_anew(const ew_message *finding) {
  g_autofree char *mend = ew_plausible_mend(finding, 1);
  return mend && !is_of_file_units(finding) && !is_of_two(finding) && !is_twice(finding) &&
         !ew_message_is(finding, &ew_doubt_calibration_back);
}

static gboolean says_weather(const struct ew_amend_ask *ask) {
  return ask->station || ew_sets_weather(ask->sets, EW_TOLD_PRESSURE) ||
         ew_sets_weather(ask->sets, EW_TOLD_TEMPERATURE) ||
         ew_sets_weather(ask->sets, EW_TOLD_HUMIDITY);
}

static gboolean answers(const struct ew_amend_ask *ask, const ew_message *finding) {
  gboolean units = (ask->units && ask->units[0]) || ask->map;
  if (is_twice(finding))
    return FALSE;
  if (ask->undo) /* what waited before the amendment that is taken back waits again: read_holds */
    return is_of_two(finding);
  if (ew_message_is(finding, &ew_doubt_calibration_back))
    return ask->calibration || ask->at;
  if (is_of_two(finding))
    return units || ask->at || says_weather(ask);
  if (is_of_file_units(finding))
    return units;
  return units || ask->at || ask->calibration || (ask->cell_sets && ask->cell_sets[0]);
}

static gboolean is_in(const GPtrArray *list, const ew_message *finding) {
  for (guint i = 0; i < list->len; i++)
    if (doubt_is_nearly(list->pdata[i], finding))
      return TRUE;
  return FALSE;
}

/* What was answered "right as it is", and what waits and is not answered by this. `undoes`: an amendment that is taken back, with what it
 * answered. */
static gboolean read_holds(const struct ew_desk *desk, const struct ew_amend_ask *ask, gint64 id,
                           gint64 undoes, GPtrArray *right, GPtrArray *stay, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) holds = ew_hold_list(desk->book, id, &problem);
  for (guint i = 0; !problem && i < holds->len; i++) {
    const struct ew_hold_row *row = &g_array_index(holds, struct ew_hold_row, i);
    ew_message *finding = ew_message_read(row->finding, strlen(row->finding), NULL);
    gboolean waits = finding && !row->answered_at;
    if (finding && row->answered_at && g_strcmp0(row->answer, EW_HOLD_RIGHT) == 0)
      ew_messages_add(right, finding);
    else if (finding && !is_asked_anew(finding) && !is_in(stay, finding) &&
             ((waits && !answers(ask, finding)) || (undoes && row->amendment_id == undoes)))
      ew_messages_add(stay, finding);
    else
      ew_message_free(finding);
  }
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

/* ---- the day that the file says ---- */

static gboolean clock_zone_of(const struct ew_desk *desk, const char *recorder, GTimeZone **zone,
                              GError **error) {
  const char *dot = recorder ? strrchr(recorder, '.') : NULL;
  struct ew_recorder_row row;
  struct ew_profile profile;
  gboolean found = FALSE;
  *zone = NULL;
  if (!dot)
    return TRUE;
  g_autofree char *name = g_strndup(recorder, (gsize)(dot - recorder));
  if (!ew_recorder_get(desk->book, name, g_ascii_strtoll(dot + 1, NULL, 10), &row, &found, error))
    return FALSE;
  gboolean good = !found || ew_profile_read(row.yaml, &profile, error);
  if (good && found) {
    *zone = profile.zone ? ew_zone_find(profile.zone, error) : NULL;
    good = !profile.zone || *zone;
    ew_profile_clear(&profile);
  }
  ew_recorder_row_clear(&row);
  return good;
}

/* The day that the file says, when that is another than the one that was typed; NULL. *doubt is the caller's. */
static gboolean doubt_of_time(const struct ew_desk *desk, const struct ew_recording_row *recording,
                              const struct ew_pull_row *pull, ew_message **doubt, GError **error) {
  g_autoptr(GArray) told = ew_told_read(pull->told);
  const struct ew_told *time = ew_told_find(told, EW_TOLD_TIME);
  g_autofree char *units = NULL;
  GTimeZone *zone = ew_book_zone(desk->book, error);
  g_autoptr(GTimeZone) clock = NULL;
  struct ew_when when;
  gsize size = 0;
  *doubt = NULL;
  if (!zone || !ew_setting_get(desk->book, "units", &units, error) ||
      !clock_zone_of(desk, recording->recorder, &clock, error))
    return FALSE;
  if (!time || time->from != EW_FROM_TYPED || !recording->bytes)
    return TRUE;
  const struct ew_when_ask ask = {.zone = zone,
                                  .clock_zone = clock,
                                  .typed = pull->at,
                                  .month_first = g_strcmp0(units, "us") == 0,
                                  .now_s = (double)g_get_real_time() / 1e6};
  const void *data = g_bytes_get_data(recording->bytes, &size);
  if (!ew_when_of(&ask, data, size, recording->name, &when, error))
    return FALSE;
  *doubt = when.doubt;
  return TRUE;
}

/* ---- of the new reading ---- */

static GPtrArray *doubts_of_part(const struct ew_desk *desk, const struct ew_amend_rows *rows,
                                 const struct ew_recomputed *again, guint part,
                                 const struct ew_pull_row *of, const struct ew_pull_row *now,
                                 GError **error) {
  const struct ew_desk own = {.book = desk->book, /* borrowed */
                              .method = again->method,
                              .bench = again->bench,
                              .engine = again->engine,
                              .setup = again->setup};
  struct ew_before before;
  if (!ew_amend_before(rows, desk, of, now->engine_id, ew_instant(now->at), &before, error))
    return NULL;
  GPtrArray *doubts = ew_doubts_of(&own, again->processed, part, &before);
  ew_before_clear(&before);
  return doubts;
}

GPtrArray *ew_amend_doubts_besides(const struct ew_desk *desk, const struct ew_amend_rows *rows,
                                   const struct ew_recomputed *again, guint part,
                                   const struct ew_pull_row *now, GError **error) {
  return doubts_of_part(desk, rows, again, part, now, now, error);
}

GPtrArray *ew_amend_doubts(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                           const struct ew_amend_rows *rows, const struct ew_recomputed *again,
                           const struct ew_pull_row *of, const struct ew_pull_row *now,
                           const struct ew_recording_row *recording, gint64 undoes,
                           const struct ew_carried *carried, GError **error) {
  g_assert(of->id == now->id);
  g_autoptr(GPtrArray) right = ew_messages_new(), stay = ew_messages_new();
  ew_message *day = NULL;
  if (!read_holds(desk, ask, of->id, undoes, right, stay, error) ||
      ((ask->at || of->held) && !doubt_of_time(desk, recording, now, &day, error)))
    return NULL;
  g_autoptr(GPtrArray) all = doubts_of_part(desk, rows, again, again->part, of, now, error);
  if (!all) {
    ew_message_free(day);
    return NULL;
  }
  ew_messages_add(all, day);
  if (!undoes && carried) {
    ew_doubt_typed(carried, &again->setup, again->processed, again->part, all);
    ew_doubt_station(carried, &again->setup, again->processed, again->part, all);
  }
  GPtrArray *findings = ew_messages_new();
  for (guint i = 0; i < all->len; i++)
    if (!is_in(right, all->pdata[i]))
      ew_messages_add(findings, ew_message_copy(all->pdata[i]));
  for (guint i = 0; i < stay->len; i++)
    if (!is_in(findings, stay->pdata[i]))
      ew_messages_add(findings, ew_message_copy(stay->pdata[i]));
  return findings;
}

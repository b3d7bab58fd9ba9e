/* Evidence counts once, whatever it is called; readings are kept as the answer saw them, with those of the pulls that its scatter was
 * learned from: an amendment of any of them puts the answer on an earlier reading. */
#include "desk/question_parts.h"
#include "base/statistics.h"
#include "base/as_pointer.h"
#include "book/keep.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(more_trips, "desk.more-trips", EW_DANGER, "{trip}; and {others} more open");
EW_MESSAGE(not_kept, "desk.answer-not-kept", EW_CAUTION,
           "{pull} is not as kept in the book: the answer is not kept either");
EW_MESSAGE(earlier_curve, "desk.earlier-curve", EW_CAUTION,
           "{pull} was computed by an earlier version of the program: run 'book renew', then ask "
           "again");
EW_MESSAGE(used_discarded, "desk.used-discarded", EW_CAUTION,
           "{pull} was discarded ({reason}); it is used here because it was named");
EW_MESSAGE(used_tripped, "desk.used-tripped", EW_CAUTION,
           "{pull} proves nothing: {trip}; it is used here because it was named");
EW_MESSAGE(used_purpose, "desk.used-purpose", EW_CAUTION,
           "{pull} was run for {purpose} and is not a pull to judge by; it is used here because it "
           "was named");
EW_MESSAGE(named_twice, "desk.named-twice", EW_CAUTION, "{pull} was named twice: it counts once");
EW_MESSAGE(same_recording, "desk.same-recording", EW_CAUTION,
           "{pull} is the same recording as {other}: it counts once");
EW_MESSAGE(history_same, "desk.history-same-recording", EW_CAUTION,
           "{pull} of the history is the same recording as {other}: it counts once");

/* Of the first; 0: not of the book. */
static gint64 question_engine(const GPtrArray *pulls) {
  const struct ew_loaded *first = pulls->len ? g_ptr_array_index(pulls, 0) : NULL;
  return first ? first->row.engine_id : 0;
}

gboolean ew_question_of_book(const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++)
    if (((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == 0)
      return FALSE;
  return pulls->len > 0;
}

static void add_ids(GArray *ids, const GPtrArray *side) {
  for (guint i = 0; i < side->len; i++)
    g_array_append_val(ids, ((struct ew_loaded *)g_ptr_array_index(side, i))->id);
}

/* Which pulls were asked about; NULL: not all of them are in the book. */
char *ew_question_asked(const GPtrArray *a, const GPtrArray *b) {
  g_autoptr(GArray) one = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) other = g_array_new(FALSE, FALSE, sizeof(gint64));
  add_ids(one, a);
  if (b)
    add_ids(other, b);
  return ew_asked_write(one, other);
}

/* What tripped and was not looked into yet, of the engine these pulls were made with; NULL: nothing. */
ew_message *ew_question_look_first(const struct ew_desk *desk, const GPtrArray *pulls) {
  if (!desk->book || !ew_question_of_book(pulls))
    return NULL;
  g_autoptr(GPtrArray) open = ew_trips_open(desk->book, question_engine(pulls));
  if (open->len == 0)
    return NULL;
  g_assert(open->len > 0);
  const ew_message *last = open->pdata[open->len - 1];
  return open->len == 1 ? ew_message_copy(last)
                        : ew_message(&more_trips, ew_say_message("trip", last),
                                     ew_say_count("others", open->len - 1));
}

/* An answer about something that the book does not hold is not kept there. */
gboolean ew_question_differs(const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++)
    if (((const struct ew_loaded *)g_ptr_array_index(pulls, i))->differs)
      return TRUE;
  return FALSE;
}

EW_MESSAGE(used_held, "desk.used-held", EW_DANGER,
           "{pull} is held ({finding}): answer that first; until then nothing here is proved");

/* What was set aside is used when it is named, and said to be. */
void ew_question_set_aside(const struct ew_desk *desk, const GPtrArray *pulls,
                           GPtrArray *warnings) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    struct ew_argument pull = EW_SAY_PULL("pull", l);
    if (l->differs)
      ew_messages_add(warnings, ew_message(&not_kept, pull));
    if (l->earlier)
      ew_messages_add(warnings, ew_message(&earlier_curve, pull));
    g_autoptr(ew_message) trip = l->row.tripped ? ew_trips_of_pull(desk->book, l->id) : NULL;
    g_autoptr(ew_message) finding =
        l->row.held ? ew_message_read(l->row.held, strlen(l->row.held), NULL) : NULL;
    if (finding)
      ew_messages_add(warnings, ew_message(&used_held, pull, ew_say_message("finding", finding)));
    if (l->row.discarded)
      ew_messages_add(warnings,
                      ew_message(&used_discarded, pull, ew_say_text("reason", l->row.discarded)));
    else if (l->row.tripped)
      ew_messages_add(warnings, ew_message(&used_tripped, pull,
                                           trip ? ew_say_message("trip", trip)
                                                : ew_say_text("trip", l->row.tripped)));
    else if (l->row.purpose && strcmp(l->row.purpose, "pull") != 0)
      ew_messages_add(warnings,
                      ew_message(&used_purpose, pull, ew_say_text("purpose", l->row.purpose)));
  }
}

/* The pulls without those that are the same recording as one before: the same evidence counts once. `met`: what
 * was met so far. The array borrows. */
GPtrArray *ew_question_once(const struct ew_desk *desk, const GPtrArray *pulls, GHashTable *met,
                            GPtrArray *warnings) {
  GPtrArray *once = g_ptr_array_new();
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (!before) {
      g_hash_table_insert(met, l->evidence, l);
      g_ptr_array_add(once, l);
    } else
      ew_messages_add(warnings, before->id == l->id && l->id
                                    ? ew_message(&named_twice, EW_SAY_PULL("pull", l))
                                    : ew_message(&same_recording, EW_SAY_PULL("pull", l),
                                                 EW_SAY_PULL("other", before)));
  }
  g_assert(once->len <= pulls->len &&
           (once->len > 0 || g_hash_table_size(met) > 0 || pulls->len == 0));
  return once;
}

/* History without what stands on a side, and each recording once; `group` follows. */
GPtrArray *ew_question_history_once(const struct ew_desk *desk, const GPtrArray *history,
                                    const GArray *group, GHashTable *met, GArray *groups,
                                    GPtrArray *warnings) {
  GPtrArray *once = g_ptr_array_new();
  for (guint i = 0; history && i < history->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(history, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (before) {
      ew_messages_add(warnings, ew_message(&history_same, EW_SAY_PULL("pull", l),
                                           EW_SAY_PULL("other", before)));
      continue;
    }
    g_hash_table_insert(met, l->evidence, l);
    g_ptr_array_add(once, l);
    g_array_append_val(groups, g_array_index(group, int, i));
  }
  g_assert(groups->len == once->len);
  return once;
}

/* ---- kept ---- */

struct ew_question_said ew_question_nothing_said(void) {
  return (struct ew_question_said){NAN, NAN, NAN, NAN, -1, 0};
}

/* "8.1,10.2": as they were when they were read. */
static void append_readings(GString *text, const GPtrArray *side) {
  for (guint i = 0; i < side->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(side, i);
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT ".%" G_GINT64_FORMAT, i ? "," : "", l->id,
                           l->row.reading);
  }
}

static char *readings_of(const struct ew_question_answer *answer) {
  GString *text = g_string_new(NULL);
  append_readings(text, answer->a);
  if (answer->b && answer->b->len) {
    g_string_append_c(text, ':');
    append_readings(text, answer->b);
  }
  if (answer->learned && *answer->learned)
    g_string_append_printf(text, ";%s", answer->learned);
  return g_string_free(text, FALSE);
}

static void write_said(const struct ew_question_said *said, struct ew_json *json) {
  g_assert(said->level < EW_LEVELS_COUNT);
  ew_json_open(json, "asked");
  ew_json_number(json, "margin", said->margin);
  ew_json_number(json, "reserve", said->reserve);
  ew_json_number(json, "band_low_rpm", said->band_low_rpm);
  ew_json_number(json, "band_high_rpm", said->band_high_rpm);
  ew_json_text(json, "level", said->level >= 0 ? ew_level_names[said->level] : NULL);
  ew_json_open_array(json, "despite");
  for (int fact = 0; fact < EW_ALIKE_FACTS_COUNT; fact++)
    if (said->despite & (1u << fact))
      ew_json_text(json, NULL, ew_alike_keys[fact]);
  ew_json_close_array(json);
  ew_json_close(json);
}

gboolean ew_question_keep(const struct ew_desk *desk, const struct ew_question_answer *answer,
                          GError **error) {
  g_assert(desk->book && answer->a->len > 0 && answer->says && answer->pair);
  struct ew_json json = {.text = g_string_new(NULL), .facts = TRUE};
  ew_json_open(&json, NULL);
  answer->write(answer->answer, &json);
  write_said(&answer->said, &json);
  ew_json_close(&json);
  g_autofree char *text = g_string_free(json.text, FALSE), *line = ew_message_write(answer->says),
                  *pulls = ew_question_asked(answer->a, answer->b), *readings = readings_of(answer);
  const struct ew_verdict_row row = {.engine_id = question_engine(answer->a),
                                     .question = ew_as_pointer(answer->question),
                                     .pair = ew_as_pointer(answer->pair),
                                     .pulls = pulls,
                                     .says = line,
                                     .json = text,
                                     .readings = readings};
  return ew_keep_answer(desk->book, &row, error);
}

/* From 93 % of the last speed on it is near the limit, as in a comparison: common practice, no source. */
#define NEAR_LIMIT 0.07

struct ew_question_cost ew_question_cost(const struct ew_curve *const *curves, gsize n) {
  double rest[64], litres = 0;
  gsize count = 0, fuelled = 0;
  for (gsize i = 0; i < n; i++) {
    const struct ew_curve *c = curves[i];
    if (count < 64 && !isnan(c->conditions.rest_s))
      rest[count++] = c->conditions.rest_s;
    const struct ew_curve_column *fuel = ew_curve_column(c, "fuel_flow", 0);
    gsize absent; /* points without fuel flow: the mean of the others is near enough for a cost */
    double flow = fuel ? ew_mean(fuel->values, c->points, &absent) : (double)NAN;
    if (isnan(flow))
      continue;
    litres += flow * (c->end_s - c->start_s) / 0.745;
    fuelled++;
  }
  double rate = n ? curves[n - 1]->conditions.acceleration_rpm_s : (double)NAN;
  return (struct ew_question_cost){
      .minutes = count ? ew_median(rest, count, EW_NONE_ABSENT) / 60 + 0.5 : (double)NAN,
      .litres = fuelled ? litres / (double)fuelled : (double)NAN,
      .seconds_high = rate > 0 ? NEAR_LIMIT * curves[n - 1]->high_rpm / rate : (double)NAN};
}
